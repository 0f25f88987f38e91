"""Making every file of a delivery, each read again before it counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
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
from lookwright.lut.fit.refine import refine, report
from lookwright.lut.fit.shaper import refine_shaped, report_shaped
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
        self._step = lambda done, total: check()  # may raise, and so stop the work between pieces
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

    def build(self) -> None:
        """Every LUT."""
        log_look = self.main.look.output.signal().kind == "scene"
        if log_look:
            self._log_files(self.main, "The look, log to log", (COARSE, FINE), "")
            self.missing.append(("separate log to log LUT", "the look itself is log to log"))
        what = "The look as its plain rendering shows it" if log_look else "The look, finished for the display"
        where = (
            "For viewing only: the look before a plain rendering."
            if log_look
            else "At the end of the chain: camera signal in, display out. No other display transform after it."
        )
        suffix = "-display" if log_look else ""
        boxes = f" For boxes that take {COARSE} points."
        self.display_33 = self._cube(self.display, suffix, COARSE, what, where + boxes)
        self._cube(self.display, suffix, FINE, what + ", finer", where + " For software.")
        if not log_look:
            found = log_to_log(self.main.look, self.main.text)
            if found.variant is None:
                self.missing.append(("log to log LUT", found.why_not))
            else:
                left = ", ".join(found.left_out)
                self._log_files(found.variant, "The look without its rendering, log to log", (COARSE,), left)
        self._monitor()
        self._cdl()
        self._clf_and_config()
        self._hald()

    def _log_files(self, variant: Variant, title: str, sizes: Iterable[int], left_out: str) -> None:
        encoding = variant.look.output.signal().encoding.name
        where = f"Before the project's own rendering, where the picture is {encoding}."
        if left_out:
            where += f" Not the whole look: {left_out} stayed out; what renders after it takes their place."
        for size in sizes:
            suffix = "" if variant is self.main else "-log"
            lattice = self._cube(variant, suffix, size, title, where)
            if size == COARSE:
                self.log_33 = lattice

    def _cube(self, variant: Variant, suffix: str, size: int, title: str, where: str, note: str = "") -> Lattice:
        """Bake, write, read again, list."""
        pipeline = for_lut(compile_look(variant.look))
        file = f"{self.name}{suffix}-{size}.cube"
        self.advance(file)
        samples = self._samples_for(pipeline)
        if self.refined:
            done = refine(pipeline, size, samples, progress=self._step, threads=self.threads)
            lattice, errors, made_by = done.lattice, done.report, done.made_by
        else:
            lattice, made_by = bake(pipeline, size, self._step, self.threads), ""
            errors = report(pipeline, lattice, samples)
        lattice = replace(lattice, comments=tuple(header(pipeline, variant.text, made_by, certificate(errors))))
        path = self.folder / file
        write_cube(path, lattice)
        difference = verify_file(path, lambda x: lookup(lattice, x))
        self.items.append(self._item(file, title, where, pipeline, "tetrahedral", errors, note, difference))
        return lattice

    def _samples_for(self, pipeline: Pipeline) -> Array:
        # A legal range form of the look is fed the same light at other codes.
        own = self.main.look.source.range
        return from_full(self.samples, "legal") if pipeline.source.range == "legal" and own == "full" else self.samples

    def _monitor(self) -> None:
        look = self.display.look
        if (look.source.range, look.output.range) == ("legal", "legal"):
            self.missing.append(("monitor LUT", "the look itself takes and gives legal range"))
            return
        variant = for_monitor(self.main.look, self.main.text)
        self._cube(
            variant,
            "-monitor",
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

    def _clf_and_config(self) -> None:
        file = f"{self.name}.clf"
        self.advance(file)
        size = FINE
        if self.refined:
            shaped, done = refine_shaped(self.pipeline, size, self.samples, progress=self._step, threads=self.threads)
            lattice, shaper = shaped.lattice, shaped.shaper
            errors, made_by = report_shaped(self.pipeline, shaped, self.samples), done.made_by

            def expected(x: Array) -> Array:
                return shaped(x)
        else:
            lattice, shaper, made_by = bake(self.pipeline, size, self._step, self.threads), None, ""
            errors = report(self.pipeline, lattice, self.samples)

            def expected(x: Array) -> Array:
                return lookup(lattice, x)

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
        plain = bake(compile_look(self.display.look.plain()), COARSE, self._step, self.threads)
        names = write_config(
            self.folder / "ocio",
            self.pipeline.source,
            self.pipeline.output,
            Part(lattice, shaper, comments),
            Part(plain),
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

    def _hald(self) -> None:
        file = f"{self.name}-hald.png"
        self.advance(file)
        size = points_of(HALD_LEVEL)
        lattice = bake(self.pipeline, size, self._step, self.threads)
        path = self.folder / file
        source, output = self.pipeline.source.describe(), self.pipeline.output.describe()
        write_hald(path, lattice, f"Feed it: {source}. It gives: {output}")
        difference = verify_hald(path, lambda x: lookup(lattice, x), size)
        errors = report(self.pipeline, lattice, self.samples)
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

    def sheet(self, make: Sheet, pictures: CardPictures | None = None) -> None:
        """The preview sheet, through the delivered 33-point lattice, and the card's pictures through the same."""
        self.advance("preview sheet")
        assert self.display_33 is not None
        view = DeliveredView(self.display.look, self.display_33)
        self.items.append(make(view, self.folder))
        if pictures is not None:
            self.pairs = pictures(view)

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
