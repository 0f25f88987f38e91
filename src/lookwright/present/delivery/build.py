"""Making every file of a delivery, each read again before it counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.restraint.report import Report
from lookwright.colour.spaces.ranges import from_full
from lookwright.errors import LutFileError
from lookwright.files import write_bytes, write_text
from lookwright.look.baking.bake import bake, for_lut, header, recipe_hash
from lookwright.look.baking.reduce import reduce_to_cdl
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.variants import Variant, for_display, for_monitor, log_to_log
from lookwright.lut.fit.fidelity import Report as Errors
from lookwright.lut.fit.fidelity import certificate
from lookwright.lut.fit.refine import report
from lookwright.lut.formats.cdl import write_cdl
from lookwright.lut.formats.clf import identity_of, write_clf
from lookwright.lut.formats.cube import LARGEST_FILE, write_cube
from lookwright.lut.formats.hald import points_of, write_hald
from lookwright.lut.formats.naming import split_name
from lookwright.lut.formats.ocio_config import Names, Part, write_config
from lookwright.lut.formats.read import LutFile
from lookwright.lut.formats.verify import verify_config, verify_correction, verify_file, verify_hald
from lookwright.lut.lattices.interpolate import Interpolation, lookup
from lookwright.lut.lattices.lattice import Lattice
from lookwright.outputs import Kind
from lookwright.reading import read_bytes

from .card import card_html, card_markdown
from .fitting import Fitted, Fitting
from .folder import MANIFEST
from .made import Delivery, Item
from .manifest import manifest, write_manifest
from .pictures import CardPair

COARSE, FINE = 33, 65
"""Points of the LUTs for boxes and for software; both sizes are read everywhere (measured; see DEVELOPERS.md)."""
CDL_SAMPLES = 8000
HALD_LEVEL = 8


class DeliveredView(View):
    """Previews through the very lattice that is delivered."""

    def __init__(self, look: Look, lattice: Lattice) -> None:
        super().__init__(look, lattice.size)
        self._delivered = lattice

    def _direct(self, look: Look) -> tuple[LutFile, Interpolation] | None:
        return None if look is self.look else super()._direct(look)

    def _lattice(self, look: Look) -> Lattice:
        return self._delivered if look is self.look else super()._lattice(look)


Advance = Callable[[str], None]
Check = Callable[[Look, Path], tuple["Report", Sequence[Item]]]
Sheet = Callable[[View, Path], Item]
CardPictures = Callable[[View], Sequence[CardPair]]


def kinds_of_files(look: Look, name: str) -> dict[str, Kind]:
    """Every file that a delivery may hold, and what it is."""
    suffixes = ("", "-display", "-log", "-monitor")
    cubes = [f"{name}{suffix}-{size}.cube" for suffix in suffixes for size in (COARSE, FINE)]
    files: dict[str, Kind] = dict.fromkeys(cubes, "cube")
    files |= dict.fromkeys([f"{name}.cc", f"{name}.cdl"], "cdl")
    files |= dict.fromkeys([f"{name}.clf", *(f"ocio/luts/{x}.clf" for x in ("graded", "plain", "log"))], "clf")
    files |= dict.fromkeys([f"{name}-hald.png", f"{name}-sheet.jpg"], "picture")
    files |= dict.fromkeys(["restraint.html", "CARD.html"], "page")
    files |= {"ocio/config.ocio": "text", "CARD.md": "text", f"{name}.toml": "look", MANIFEST: "json"}
    return files | {lut: _KINDS.get(Path(lut).suffix.lower(), "cube") for lut in _luts_beside(look)}


_KINDS: dict[str, Kind] = {".clf": "clf", **dict.fromkeys((".cc", ".ccc", ".cdl"), "cdl")}
_KINDS |= dict.fromkeys((".png", ".tif", ".tiff"), "picture")


def clashes(look: Look, name: str) -> bool:
    """Whether a file of the delivery would take the name of a LUT that comes along."""
    made = kinds_of_files(look.model_copy(update={"steps": ()}), name)
    return any(lut in made for lut in _luts_beside(look))


def _luts_beside(look: Look) -> list[str]:
    """Names of the LUTs that a look makes use of and that lie beside it."""
    named = [split_name(str(getattr(step, "file", "")))[0] for step in look.steps if step.kind == "lut"]
    return [name for name in dict.fromkeys(named) if Path(name).name == name]


class Builder:
    """One delivery in the making: call the parts in order, then :meth:`finish`."""

    def __init__(
        self,
        variant: Variant,
        name: str,
        samples: Array,
        folder: Path,
        refined: bool = True,
        advance: Advance | None = None,
        threads: int | None = None,
        check: Callable[[], None] = lambda: None,
    ) -> None:
        self.main, self.name, self.samples, self.folder = variant, name, samples, folder
        self.refined, self.threads = refined, threads
        self._check = check  # may raise, and so stop the work between pieces
        self.advance: Advance = advance or (lambda text: None)
        self.items: list[Item] = []
        self.missing: list[tuple[str, str]] = []
        self.display = for_display(variant.look, variant.text)
        self.pipeline = compile_look(self.display.look)
        compile_look(variant.look)  # faults are reported as the user wrote the look
        self.display_33: Lattice | None = None
        self.log_33: Lattice | None = None
        self.restraint = ""
        self.pairs: Sequence[CardPair] = ()
        """Before and after, for the card."""

    # -- the LUTs

    def build(self, sheet: Sheet | None = None, pictures: CardPictures | None = None) -> None:
        """Every LUT; the lattices side by side, and beside them the preview sheet and the card's pictures, through the
        delivered 33-point lattice."""
        main, log_look = self.main, self.main.look.output.signal().kind == "scene"
        found = None if log_look else log_to_log(main.look, main.text)
        if log_look:
            self.missing.append(("separate log to log LUT", "the look itself is log to log"))
        with Fitting(self.refined, self._check, self.threads) as fitting:
            self._fitting = fitting
            display = self._begun(self.display, COARSE)
            shaped = fitting.shaped(self.pipeline, FINE, self.samples)
            fine = self._begun(self.display, FINE)
            if found is not None:
                logs = [(found.variant, COARSE)] if found.variant is not None else []
            else:
                logs = [(main, COARSE), (main, FINE)]
            log_futures = {size: self._begun(variant, size) for variant, size in logs}
            monitor = self._monitor_variant()
            monitored = None if monitor is None else self._begun(monitor, COARSE)
            plain = fitting.plain(compile_look(self.display.look.plain()), COARSE)
            hald = fitting.beside(self._hald_lattice)
            shown = fitting.beside(self._shown, display, sheet, pictures)

            if log_look:
                self._log_files(main, "The look, log to log", log_futures, "")
            self._display_files(display, fine, log_look)
            if found is not None and found.variant is None:
                self.missing.append(("log to log LUT", found.why_not))
            elif found is not None and found.variant is not None:
                left = ", ".join(found.left_out)
                self._log_files(found.variant, "The look without its rendering, log to log", log_futures, left)
            self._monitor(monitor, monitored)
            self._cdl()
            self._clf_and_config(shaped, plain)
            self._hald(hald)
            self.advance("preview sheet")
            if (made := shown.result()) is not None:
                item, self.pairs = made
                self.items.append(item)

    def _begun(self, variant: Variant, size: int) -> Future[Fitted]:
        pipeline = for_lut(compile_look(variant.look))
        return self._fitting.lattice(pipeline, size, self._samples_for(pipeline))

    def _shown(
        self, display: Future[Fitted], sheet: Sheet | None, pictures: CardPictures | None
    ) -> tuple[Item, Sequence[CardPair]] | None:
        if sheet is None:
            return None
        view = DeliveredView(self.display.look, display.result().lattice)
        item = sheet(view, self.folder)
        return item, () if pictures is None else pictures(view)

    def _display_files(self, coarse: Future[Fitted], fine: Future[Fitted], log_look: bool) -> None:
        what = "The look as its plain rendering shows it" if log_look else "The look, finished for the display"
        where = (
            "For viewing only: the look before a plain rendering."
            if log_look
            else "At the end of the chain: camera signal in, display out. No other display transform after it."
        )
        suffix = "-display" if log_look else ""
        boxes = f" For boxes that take {COARSE} points."
        self.display_33 = self._cube(self.display, suffix, coarse, COARSE, what, where + boxes)
        self._cube(self.display, suffix, fine, FINE, what + ", finer", where + " For software.")

    def _log_files(self, variant: Variant, title: str, fitted: dict[int, Future[Fitted]], left_out: str) -> None:
        encoding = variant.look.output.signal().encoding.name
        where = f"Before the project's own rendering, where the picture is {encoding}."
        if left_out:
            where += f" Not the whole look: {left_out} stayed out; what renders after it takes their place."
        for size, future in fitted.items():
            suffix = "" if variant is self.main else "-log"
            lattice = self._cube(variant, suffix, future, size, title, where)
            if size == COARSE:
                self.log_33 = lattice

    def _cube(self, variant: Variant, suffix: str, begun: Future[Fitted], size: int, title: str, where: str) -> Lattice:
        """Wait for it, write, read again, list."""
        pipeline = for_lut(compile_look(variant.look))
        file = f"{self.name}{suffix}-{size}.cube"
        self.advance(file)
        done = begun.result()
        comments = tuple(header(pipeline, variant.text, done.made_by, certificate(done.errors)))
        lattice = replace(done.lattice, comments=comments)
        path = self.folder / file
        write_cube(path, lattice)
        difference = verify_file(path, lambda x: lookup(lattice, x))
        self.items.append(self._item(file, title, where, pipeline, "tetrahedral", done.errors, "", difference))
        return lattice

    def _samples_for(self, pipeline: Pipeline) -> Array:
        # A legal range form of the look is fed the same light at other codes.
        own = self.main.look.source.range
        return from_full(self.samples, "legal") if pipeline.source.range == "legal" and own == "full" else self.samples

    def _monitor_variant(self) -> Variant | None:
        look = self.display.look
        if (look.source.range, look.output.range) == ("legal", "legal"):
            return None
        return for_monitor(self.main.look, self.main.text)

    def _monitor(self, variant: Variant | None, begun: Future[Fitted] | None) -> None:
        if variant is None or begun is None:
            self.missing.append(("monitor LUT", "the look itself takes and gives legal range"))
            return
        self._cube(
            variant,
            "-monitor",
            begun,
            COARSE,
            "The look for a monitor or LUT box, legal range in and out",
            "In the monitor or LUT box on set, where the video link carries legal range (10-bit 64 to 940). If grey "
            "does not come in at the code beside this, use the full range LUT.",
        )

    def _cdl(self) -> None:
        file = f"{self.name}.cc"
        self.advance(file)
        pixels = self.samples.reshape(-1, 3)
        found = reduce_to_cdl(self.main.look, pixels[:: max(1, len(pixels) // CDL_SAMPLES)], self.name)
        if not found.reducible or found.correction is None:
            self.missing.append(("ASC CDL", found.reason()))
            return
        correction = found.correction
        source = self.main.look.source.signal().describe()
        worst = 0.0
        for suffix in (".cc", ".cdl"):
            path = self.folder / f"{self.name}{suffix}"
            write_cdl(path, [correction], [f"{self.main.look.title}: {found.words()}"])
            worst = max(worst, verify_correction(path, correction))
        for suffix, kind in ((".cc", "one correction"), (".cdl", "decision list")):
            self.items.append(
                Item(
                    f"{self.name}{suffix}",
                    f"The steps before the rendering as an ASC CDL, {kind}",
                    "Where only a CDL travels (dailies): in the log signal, before the project's own rendering.",
                    source,
                    source,
                    note=f"Not clamped. {found.words()[:1].upper()}{found.words()[1:]}.",
                    read_back=worst,
                )
            )

    def _clf_and_config(self, begun: Future[Fitted], plain: Future[Lattice]) -> None:
        file = f"{self.name}.clf"
        self.advance(file)
        size = FINE
        done = begun.result()
        lattice, shaper, errors, made_by, expected = done.lattice, done.shaper, done.errors, done.made_by, done.shows
        comments = tuple(header(self.pipeline, self.display.text, made_by, certificate(errors)))
        words = {"feed": self.pipeline.source.describe(), "gives": self.pipeline.output.describe()}
        identity = identity_of("clf", recipe_hash(self.display.text), made_by, str(size))
        title = self.main.look.title or self.name
        write_clf(self.folder / file, lattice, shaper, identity=identity, title=title, comments=comments, **words)
        difference = verify_file(self.folder / file, expected)
        self.items.append(
            self._item(
                file,
                f"The look in the Common LUT Format, {'curve and ' if shaper else ''}{size} points",
                "As the display LUTs, and nearest to the look: for software that reads CLF 3.",
                self.pipeline,
                "as stated in the file",
                errors,
                "",
                difference,
            )
        )
        self.advance("ocio/config.ocio")
        names = write_config(
            self.folder / "ocio",
            self.pipeline.source,
            self.pipeline.output,
            Part(lattice, shaper, comments),
            Part(plain.result()),
            Part(self.log_33) if self.log_33 is not None else None,
            title,
        )
        difference = verify_config(self.folder / "ocio", names, expected)
        self.items.append(self._config_item(names, difference, errors))

    def _config_item(self, names: Names, difference: float, errors: Errors) -> Item:
        inside = tuple(
            p.relative_to(self.folder).as_posix() for p in sorted((self.folder / "ocio").rglob("*")) if p.is_file()
        )
        where = (
            f"Name ocio/config.ocio in OCIO or in the software's settings. Pictures are '{names.source}'; the display "
            f"is '{names.display}', the view '{names.view}' (beside it '{names.plain_view}')."
        )
        return Item(
            "ocio/config.ocio",
            "OpenColorIO configuration with the look as a view",
            where,
            self.pipeline.source.describe(),
            self.pipeline.output.describe(),
            "as stated in the files",
            self._grey(self.pipeline),
            errors,
            "The whole folder ocio belongs together.",
            difference,
            inside,
        )

    def _hald_lattice(self) -> tuple[Lattice, Errors]:
        lattice = bake(self.pipeline, points_of(HALD_LEVEL), self._fitting.step, 1)
        return lattice, report(self.pipeline, lattice, self.samples)

    def _hald(self, begun: Future[tuple[Lattice, Errors]]) -> None:
        file = f"{self.name}-hald.png"
        self.advance(file)
        size = points_of(HALD_LEVEL)
        lattice, errors = begun.result()
        path = self.folder / file
        source, output = self.pipeline.source.describe(), self.pipeline.output.describe()
        write_hald(path, lattice, f"Feed it: {source}. It gives: {output}")
        difference = verify_hald(path, lambda x: lookup(lattice, x), size)
        self.items.append(
            self._item(
                file,
                f"The look as a Hald CLUT, {size} points, 16-bit PNG",
                "For scripts and photo tools. It must stay 16-bit and must not be colour managed.",
                self.pipeline,
                "tetrahedral",
                errors,
                "",
                difference,
            )
        )

    # -- the rest

    def look_file(self) -> None:
        """The recipe itself."""
        file = f"{self.name}.toml"
        write_text(self.folder / file, self.main.text)
        self.items.append(Item(file, "The look itself, a text to edit", "For lookwright: all here is made of it."))

    def copy_luts(self) -> None:
        """Foreign LUTs that the look names beside itself come along, so that the look here still works."""
        for name in _luts_beside(self.main.look):
            source = self.main.look.folder / name
            compile_look(self.main.look)  # a fault in it is reported as such
            write_bytes(self.folder / name, read_bytes(source, LARGEST_FILE, "a LUT file", LutFileError))
            self.items.append(Item(name, "A LUT that the look makes use of, as it was", "Beside the look file."))

    def check(self, make: Check) -> None:
        """The restraint report."""
        self.advance("restraint report")
        found, items = make(self.main.look, self.folder)
        self.restraint = found.summary()
        self.items += items

    def shows(self, signal: Array) -> Array:
        """(M, 3) source signal through the 33-point display LUT, tetrahedrally."""
        assert self.display_33 is not None
        return lookup(self.display_33, signal)

    def _grey(self, pipeline: Pipeline) -> str:
        source = pipeline.source
        if source.kind == "scene":
            fed = source.from_scene(np.full((1, 3), 0.18))
            label = "18 % grey"
        else:
            fed = np.full((1, 3), 0.5) if source.range == "full" else from_full(np.full((1, 3), 0.5), "legal")
            label = "middle code"
        given = pipeline(fed)
        return f"{label}: {_code(fed)} in, {_code(given)} out"

    def _item(
        self,
        file: str,
        title: str,
        where: str,
        pipeline: Pipeline,
        interpolation: str,
        errors: Errors,
        note: str,
        difference: float,
    ) -> Item:
        return Item(
            file,
            title,
            where,
            pipeline.source.describe(),
            pipeline.output.describe(),
            interpolation,
            self._grey(pipeline),
            errors,
            note,
            difference,
        )

    def finish(self, agreement: Sequence[str] = ()) -> Delivery:
        """Card and manifest, in this order; the manifest lists every file. ``agreement``: with other cameras."""
        look = self.main.look
        made = Delivery(
            look,
            self.name,
            self.main.text,
            self.pipeline.output,
            tuple(self.items),
            tuple(self.missing),
            self.restraint,
            tuple(agreement),
        )
        write_text(self.folder / "CARD.md", card_markdown(made))
        write_text(self.folder / "CARD.html", card_html(made, self.pairs))
        listed = manifest(made, self.folder)
        write_manifest(self.folder, listed)
        return replace(made, manifest=listed)


def _code(value: Array) -> str:
    """Code values of one colour, 10 bits: one number for a grey, else three."""
    codes = [f"{round(float(v) * 1023)}" for v in np.ravel(value)]
    return codes[0] if len(set(codes)) == 1 else " ".join(codes)
