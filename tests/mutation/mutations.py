"""Faults put in by hand: each would make the program claim more than it knows, or lose what it wrote.

One line an entry: the file under src/lookwright, what stands there (once), what is put in its place, the tests that
must fail. A test that fails for a mutation is named by folder or file, not by its own name: the question is whether
the suite would notice.
"""

from __future__ import annotations

from typing import NamedTuple


class Mutation(NamedTuple):
    """One fault."""

    what: str
    file: str
    old: str
    new: str
    tests: str


_REFINE = "tests/units/test_refine.py tests/properties/test_refine_properties.py"
_FILES = "tests/units/test_cube_killed.py tests/faults/test_ended.py tests/faults/test_every_writer.py"
_CUBE = (
    "tests/published/test_cube_files.py tests/properties/test_lut_cube_properties.py tests/oracle/test_cube_interop.py"
)
_VERIFY = "tests/oracle/test_delivery_readers.py tests/units/test_delivery_folder.py tests/cli/test_deliver.py"
_STILLS = "tests/units/test_stills_write.py tests/oracle/test_stills_oracle.py"
_EMBED = "tests/properties/test_lut_embed.py"
_CHECK = "tests/units/test_restraint_check.py tests/units/test_restraint_measures.py"
_ADVICE = "tests/units/test_restraint_check.py tests/properties/test_new_step.py"
_TUNER = "tests/units/test_tune_search.py tests/units/test_tune_model.py tests/units/test_tune_places.py"
_ARRAYS = "tests/library tests/units/test_recipe_codes.py tests/units/test_recipe_staged.py"
_SYSTEMS = "tests/platform"
_TONES = "tests/properties/test_tones.py tests/properties/test_unfolded.py tests/properties/test_holds.py"
_CAMERAS = "tests/units/test_cameras.py tests/units/test_pairing.py tests/cli/test_cameras.py"
_FIDELITY = "tests/units/test_lut_fidelity.py tests/units/test_refine.py"
_SEEN = "tests/cli/test_see.py"
_HANDED = "tests/units/test_timelines.py tests/oracle/test_series_files.py tests/units/test_series_inside.py"
_PIXELS = "tests/units/test_bench_pixels.py"
_DROPPED = "tests/browser/test_bench_dropped.py"

# fmt: off
MUTATIONS = [
    # What is judged was not fitted to; the bound holds; greys are exact.
    Mutation("refine is fitted to the pixels it is judged by", "lut/fit/shares.py", "fitted = (turn != _CHOSEN) & (turn != _KEPT)", "fitted = turn != _CHOSEN", _REFINE),
    Mutation("refine is judged by the pixels it was fitted to", "lut/fit/shares.py", "given[:, turn == _KEPT]", "given[:, turn == 0]", _REFINE),
    Mutation("refine is judged by the pixels its choices were made by", "lut/fit/shares.py", "_CHOSEN, _KEPT = 4, 2", "_CHOSEN, _KEPT = 4, 4", _REFINE),
    Mutation("stills left out are fitted to", "lut/fit/shares.py", "given, left_out = stills[: count - whole]", "given, left_out = stills", _REFINE),
    Mutation("refine is judged at the colours its choices were made by", "lut/fit/judge.py", "spread(CUBE, 3, SEED)", "spread(CUBE, 3, 2)", _REFINE),
    Mutation("natural colours of the report are those of the choices", "lut/fit/judge.py", "draw(prior, NATURAL, SEED)", "draw(prior, NATURAL, 2)", _REFINE),
    Mutation("the curve of a CLF is fitted to what its report is made of", "lut/fit/shaper.py", "shared(drawn).fitted", "drawn", "tests/units/test_shaper.py"),
    Mutation("the bound is not checked on edges", "lut/fit/choice.py", "edges(plain.size, EDGES, seed + 1)", "spread(2, 3, seed + 1)", _REFINE),
    Mutation("points move as far as they like", "lut/fit/limits.py", "cap = 0.9 * self.bound", "cap = 9.0 * self.bound", _REFINE),
    Mutation("broken bounds are not mended", "lut/fit/limits.py", "if not broken.any():", "if True:", _REFINE),
    Mutation("neutral points move with the others", "lut/fit/limits.py", "        self.free[np.arange(size) * (size * size + size + 1)] = False\n", "", _REFINE),
    Mutation("tetrahedra may turn over", "lut/fit/folds.py", "            if not len(touched):", "            if True:", _REFINE),
    Mutation("only one lookup is served", "lut/fit/choice.py", "_SHARES = (0.65, 0.2)", "_SHARES = (1.0, 1.0)", _REFINE),
    Mutation("worst tells of the mean lookup", "lut/fit/limits.py", "- before).max(axis=0)", "- before).mean(axis=0)", _REFINE),
    Mutation("the percentile is the median", "lut/fit/fidelity.py", "[95.0, 99.0]", "[50.0, 50.0]", _FIDELITY),
    Mutation("the largest error is the 99th percentile", "lut/fit/fidelity.py", "float(values.max()), mean", "float(p99), mean", _FIDELITY),
    # Writing whole or not at all.
    Mutation("files are written in place", "files.py", "            yield temporary\n            settle(temporary)", "            yield target\n            temporary.write_bytes(target.read_bytes())\n            settle(temporary)", _FILES),
    Mutation("the temporary file is left behind", "files.py", "            with contextlib.suppress(OSError):\n                os.unlink(name)\n    except", "            pass\n    except", _FILES),
    Mutation("written files stay private", "files.py", "os.chmod(temporary, 0o666 & ~mask)", "pass", _FILES + " " + _STILLS + " " + _CUBE),
    Mutation("a folder made for a failed job stays", "files.py", "            for folder in made:\n                folder.rmdir()", "            pass", _FILES + " tests/cli/test_bad_input.py"),
    # Other systems.
    Mutation("a file is seen to the disk by a handle for reading", "files.py", "with open(written, \"r+b\") as file:", "with open(written, \"rb\") as file:", _SYSTEMS),
    Mutation("a file in use is not waited for", "files.py", "range(1 if system.REPLACES_OPEN_FILES else _TRIES)", "range(1)", _SYSTEMS),
    Mutation("the recovery file is written over while it is held", "app/bench/unsaved.py", "        if not system.REPLACES_OPEN_FILES:\n", "        if False:\n", _SYSTEMS),
    Mutation("a delivery removes what it wrote under another case", "present/delivery/folder.py", "if any(os.path.samestat(old.stat(), new) for new in written):", "if False:", _SYSTEMS),
    Mutation("a device is taken for a name", "names.py", "    if device is not None:\n", "    if False:\n", _SYSTEMS),
    Mutation("a code page is not suited", "app/cli/__init__.py", "    suit_code_page()\n", "", _SYSTEMS),
    Mutation("what is locked is a part of the file", "system.py", "_FAR = 1 << 30", "_FAR = 0", _SYSTEMS),
    Mutation("a printed look is in the code page", "app/cli/terminal.py", "return text.encode(\"utf-8\")", "return text", _SYSTEMS),
    # Numbers as they are.
    Mutation("blue runs fastest in a .cube", "lut/formats/cube.py", "table.transpose(2, 1, 0, 3)", "table.transpose(0, 1, 2, 3)", _CUBE),
    Mutation("minus zero is written", "lut/formats/cube.py", "return text if significant else text.replace(form % -0.0, form % 0.0)", "return text", _CUBE),
    Mutation("a domain is written without being asked for", "lut/formats/cube.py", "if not allow_domain:", "if False:", _CUBE + " tests/units/test_cube_errors.py"),
    Mutation("a changed recipe is not noticed", "lut/formats/embed.py", "            if hashlib.sha256(_utf8(text)).hexdigest() != end[1]:", "            if False:", _EMBED),
    Mutation("the independent reader may err a hundred times more", "lut/formats/verify.py", "ALLOWED = 2e-5", "ALLOWED = 2e-3", _VERIFY),
    Mutation("the independent reader is not compared", "lut/formats/verify.py", "if not worst <= ALLOWED:", "if False:", _VERIFY),
    Mutation("a code is cut off instead of rounded", "pictures/stills/quantise.py", "    codes += 0.5\n", "", _STILLS),
    Mutation("NaN is written", "pictures/stills/write.py", "    if not math.isfinite(low) or not math.isfinite(high):", "    if False:", _STILLS),
    Mutation("a PNG says that it is sRGB", "pictures/stills/write.py", 'spec.attribute("oiio:ColorSpace", "raw")', "pass", _STILLS),
    Mutation("WebP with loss", "pictures/stills/write.py", '"lossless": True', '"lossless": False', _STILLS),
    # Any camera.
    Mutation("a LUT for another camera carries the look's own source", "jobs/looks.py", "look, text = changed.look, changed.text", "look = changed.look", _CAMERAS),
    Mutation("primaries of the source before stay", "look/recipe/variants.py", "        if key not in words and key in table:", "        if False:", _CAMERAS),
    Mutation("any primaries of a maker will do", "colour/spaces/encodings.py", "(pair[0], ()) if len(pair) == 1", "(pair[0], ()) if pair", _CAMERAS),
    Mutation("part of a short name is enough", "colour/spaces/encodings.py", "if wanted in short_names(n)]", "if any(wanted in s for s in short_names(n))]", _CAMERAS),
    Mutation("cameras are compared on what one alone carries", "present/delivery/cameras.py", "parts.append(scene[np.all((there >= 0.0) & (there <= 1.0), axis=1)])", "parts.append(scene)", _CAMERAS),
    Mutation("the stills are not coded anew for the next camera", "present/delivery/cameras.py", "    if first == other:", "    if True:", _CAMERAS),
    # Limits and advice.
    Mutation("watch stays where it is when a look has a limit of its own", "assess/restraint/limits/measure.py", "> self.side * self.watch_for(limit)", "> self.side * self.watch", _CHECK),
    Mutation("harm of a look's own limit is that of the declared one", "assess/restraint/limits/measure.py", "        limit = self.fail if fail is None else fail\n        watch", "        limit = self.fail\n        watch", _CHECK),
    Mutation("dark and light skin are not held apart", "assess/restraint/skin.py", "    return sides[0] - sides[1]", "    return sides[0] - sides[0]", _CHECK),
    Mutation("the hue of the scene is that of the plain rendering", "assess/restraint/shades.py", 'if subject.source.kind == "scene" else before', 'if subject.source.kind == "paper" else before', _CHECK),
    Mutation("lightness is not held against greys", "assess/restraint/shades.py", "l1 - np.interp(l0, *curve)", "l1 - l0", _CHECK),
    Mutation("a smooth curve is the curve itself", "assess/restraint/banding.py", "return np.asarray(windows @ _kernel())", "return ramp[..., HALF:-HALF, :]", _CHECK),
    Mutation("a log with another black is taken for any", "assess/measure/which_log.py", "pile > SPIKE * above", "pile > 9 * SPIKE", "tests/units/test_which_log.py"),
    Mutation("nothing to judge counts as harm", "assess/restraint/limits/measure.py", "np.where(np.isnan(harm), 0.0, harm)", "np.where(np.isnan(harm), 1.0, harm)", _CHECK),
    Mutation("a trial may pass a bound", "assess/restraint/trials.py", "min(max(float(f\"{then:.3g}\"), info.low), info.high)", "float(f\"{then:.3g}\")", _ADVICE),
    Mutation("trials move away from neutral", "assess/restraint/trials.py", "then = value + SHARE * (end - value)", "then = value - SHARE * (end - value)", _ADVICE),
    Mutation("a remedy that breaks another measure is named without a word", "assess/restraint/ease.py", "            if not broken:", "            if True:", _ADVICE),
    Mutation("a remedy need bring nothing", "assess/restraint/ease.py", "if then is None or self._harm_of(measure, then) >= now * (1.0 - WORTH):", "if then is None:", _ADVICE),
    # The tuner's heuristics, one each.
    Mutation("steps are as long as they like", "solve/tune/solver.py", "LONGEST = 0.4", "LONGEST = 40.0", _TUNER),
    Mutation("the radius never grows", "solve/tune/solver.py", "self._radius = max(self._radius, 2.0 * length)", "pass", _TUNER),
    Mutation("limits met in a step are not looked at", "solve/tune/solver.py", "                slopes.see(there)\n", "", _TUNER),
    Mutation("no other start is tried", "solve/tune/search.py", "HIGH = {\"pairs\": 1.0}", "HIGH = {\"pairs\": 1e9}", _TUNER),
    Mutation("levels are not insisted on", "solve/tune/search.py", "levels.weight *= 4.0", "pass", _TUNER),
    Mutation("open parameters are not put back", "solve/tune/search.py", "        back = [i for i in wanted if abs(trial[i]) < AT_HOME]", "        back = []", _TUNER),
    Mutation("measures that fail do not join", "solve/tune/hold.py", "            self._barrier.join(self._barrier.measurements_of(list(worse), function))\n", "", _TUNER),
    Mutation("a solution may end behind its start", "solve/tune/hold.py", "if self._no_help(z) else z", "if False else z", _TUNER),
    Mutation("no second way where the first came to nothing", "solve/tune/run.py", "        helped = at_start", "        helped = True or at_start", _TUNER),
    Mutation("hues followed for half their time", "colour/spaces/hue_flow.py", "/ 2**_DOUBLINGS", "/ 2**(_DOUBLINGS + 1)", "tests/oracle/test_hue_flow.py"),
    # Steps that fold for no value, tones that rise, holds that hold.
    Mutation("nothing is eased that would fold", "look/steps/unfolded.py", "return 1.0 if worst <= 1.0 - LEAST else (1.0 - LEAST) / worst", "return 1.0", _TONES),
    Mutation("tones closes faster than it can", "look/steps/rising.py", "    if by >= 0.0:", "    if True:", _TONES),
    Mutation("shadows are seen from the wrong end", "look/steps/rising.py", "-opened(-stops, middle - shadows, -low, width)", "opened(stops, middle - shadows, low, width)", _TONES),
    Mutation("holds hold nothing", "look/steps/holds.py", "1.0 - amount * bump(hue, middle, half) * share", "1.0 - 0.0 * bump(hue, middle, half) * share", _TONES),
    Mutation("the card is not spared", "look/steps/tints.py", "    return 1.0 - amount * np", "    return 1.0 - 0.0 * np", _TONES),
    # What is shown of a look.
    Mutation("seen: pictures in turns jump", "present/sheets/turns.py", "FADE_MS = 1000", "FADE_MS = 50", _SEEN),
    Mutation("seen: turns are held for a blink", "present/sheets/turns.py", "        yield Still(sheet, hold_ms)", "        yield Still(sheet, FRAME_MS)", _SEEN),
    Mutation("seen: steps behind are not plain", "look/recipe/so_far.py", "form.scaled(0.0)", "form", _SEEN),
    Mutation("seen: each step is held against the plain rendering", "present/sheets/step_effects.py", "ciede2000(labs[i], labs[i + 1])", "ciede2000(labs[0], labs[i + 1])", _SEEN),
    Mutation("seen: the first value stands for all", "jobs/forms.py", "with_value(step, number.path, value)", "with_value(step, number.path, number.value)", _SEEN),
    Mutation("seen: the card shows one picture twice", "present/delivery/pictures.py", "before, after = self.subject.plain_picture(small)", "before, after = self.subject.graded_picture(small)", _SEEN),
    # What a series is handed on as.
    Mutation("handed: values of a list stand twice", "lut/formats/edl_cdl.py", "        del lines[gone]", "        pass", _HANDED),
    Mutation("handed: of a dissolve what goes out", "pictures/timelines/edl.py", "current.reel, current.end = event[\"reel\"].strip(), at + 1", "current.end = at + 1", _HANDED),
    Mutation("handed: dropped frames are not", "pictures/timelines/edl.py", "(drop or \";\" in timecode)", "(\";\" in timecode)", _HANDED),
    Mutation("handed: the context picks nothing", "lut/formats/ocio_shots.py", "cccId=f\"${VARIABLE}\"", "cccId=corrections[0].id", _HANDED),
    Mutation("handed: the LUT of a shot is the look's", "look/baking/shot_lut.py", "bake(with_correction(pipeline, correction), size", "bake(pipeline, size", _HANDED),
    Mutation("handed: a step of light is steadied away", "jobs/steady.py", "held = min(max(inside.shown, first), end - 1)", "held = inside.shown", _HANDED),
    # What a library is called with.
    Mutation("NaN goes through", "look/recipe/codes.py", "    if not np.isfinite(x).all():", "    if False:", _ARRAYS),
    # What the bench says of pixels.
    Mutation("bench pixel: a way leaves its steps out", "look/recipe/way.py", "            x = through([next(parts)], x)\n", "            next(parts)\n", _PIXELS),
    Mutation("bench pixel: what was clipped before warns too", "app/bench/warned.py", "clipped(subject, graded) & ~clipped(subject, plain)", "clipped(subject, graded)", _PIXELS),
    Mutation("bench pixel: skin may turn as it likes", "app/bench/warned.py", "(np.abs(turn) > BY_NAME[\"skin_hue\"].fail)", "(np.abs(turn) > 90.0)", _PIXELS),
    Mutation("bench pixel: a step alone keeps its neighbours", "look/recipe/so_far.py", "return _only(look, {index})", "return _only(look, set(range(index + 1)))", _PIXELS),
    Mutation("bench pixel: a band shows without its fade on greys", "app/bench/acting.py", " * colour_fade(saturation, near)", "", _PIXELS),
    Mutation("bench pixel: a level is solved against its start", "app/bench/picked.py", "fm = at(middle) - wanted", "fm = at(middle) - start", _PIXELS),
    Mutation("bench dropped: a name is a path", "app/bench/dropped.py", "portable(Path(name.replace(\"\\\\\", \"/\")).name, 120)", "name", _DROPPED),
    Mutation("bench dropped: what no reader takes stays", "app/bench/dropped.py", "            self.drop(path, size)\n", "            pass\n", _DROPPED),
    Mutation("bench dropped: anything may be as large", "app/bench/security.py", "MOST_DROPPED if path == DROP else MOST_BYTES", "MOST_DROPPED", _DROPPED),
]
# fmt: on
