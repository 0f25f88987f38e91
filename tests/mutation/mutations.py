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
_FILES = "tests/faults/test_ended.py tests/faults/test_every_writer.py tests/units/test_cube_killed.py tests/faults/test_two_writers.py"
_CUBE = (
    "tests/published/test_cube_files.py tests/properties/test_lut_cube_properties.py tests/oracle/test_cube_interop.py"
)
_VERIFY = "tests/oracle/test_delivery_readers.py tests/units/test_delivery_folder.py tests/cli/test_deliver.py"
_STILLS = "tests/units/test_stills_write.py tests/oracle/test_stills_oracle.py"
_EMBED = "tests/properties/test_lut_embed.py"
_FIDELITY = "tests/units/test_lut_fidelity.py tests/units/test_refine.py"

# fmt: off
MUTATIONS = [
    # What is judged was not fitted to; the bound holds; greys are exact.
    Mutation("refine is fitted to the pixels it is judged by", "lut/fit/refine.py", "job.fitted(drawn[~held], seed", "job.fitted(drawn, seed", _REFINE),
    Mutation("refine is judged by the pixels it was fitted to", "lut/fit/refine.py", '{"stills": drawn[held]}', '{"stills": drawn[~held]}', _REFINE),
    Mutation("refine is judged at the fitted colours of the cube", "lut/fit/refine.py", 'checked["cube"] = spread(CHECKED, 3, seed + 1)', 'checked["cube"] = per_cell(size, 1, seed)', _REFINE),
    Mutation("the bound is not checked on edges", "lut/fit/refine.py", 'checked["edges"] = edges(size, EDGES, seed + 1)', "pass", _REFINE),
    Mutation("points move as far as they like", "lut/fit/refine.py", "cap = 0.9 * self.bound", "cap = 9.0 * self.bound", _REFINE),
    Mutation("broken bounds are not mended", "lut/fit/refine.py", "if not broken.any():", "if True:", _REFINE),
    Mutation("neutral points move with the others", "lut/fit/refine.py", "        values[self.neutral] = self.values[self.neutral]\n        return Lattice", "        return Lattice", _REFINE),
    Mutation("only one lookup is served", "lut/fit/refine.py", "_SHARES = np.array([[0.45], [0.55]])", "_SHARES = np.array([[0.95], [0.05]])", _REFINE),
    Mutation("worst tells of the mean lookup", "lut/fit/refine.py", "worse = (after - before).max(axis=0)", "worse = (after - before).mean(axis=0)", _REFINE),
    Mutation("the percentile is the median", "lut/fit/fidelity.py", "[95.0, 99.0]", "[50.0, 50.0]", _FIDELITY),
    Mutation("the largest error is the 99th percentile", "lut/fit/fidelity.py", "float(values.max()))", "float(p99))", _FIDELITY),
    # Writing whole or not at all.
    Mutation("files are written in place", "files.py", "            yield temporary\n            with open(temporary, \"rb\") as written:", "            yield target\n            temporary.write_bytes(target.read_bytes())\n            with open(temporary, \"rb\") as written:", _FILES),
    Mutation("the temporary file is left behind", "files.py", "            with contextlib.suppress(OSError):\n                os.unlink(name)\n    except", "            pass\n    except", _FILES),
    Mutation("written files stay private", "files.py", "os.chmod(temporary, 0o666 & ~mask)", "pass", _FILES + " " + _STILLS + " " + _CUBE),
    Mutation("a folder made for a failed job stays", "files.py", "            for folder in made:\n                folder.rmdir()", "            pass", _FILES + " tests/cli/test_bad_input.py"),
    # Numbers as they are.
    Mutation("blue runs fastest in a .cube", "lut/formats/cube.py", "table.transpose(2, 1, 0, 3)", "table.transpose(0, 1, 2, 3)", _CUBE),
    Mutation("minus zero is written", "lut/formats/cube.py", "return text if significant else text.replace(form % -0.0, form % 0.0)", "return text", _CUBE),
    Mutation("a domain is written without being asked for", "lut/formats/cube.py", "if not allow_domain:", "if False:", _CUBE + " tests/units/test_cube_errors.py"),
    Mutation("a changed recipe is not noticed", "lut/formats/embed.py", "            if hashlib.sha256(_utf8(text)).hexdigest() != end[1]:", "            if False:", _EMBED),
    Mutation("the independent reader may err a hundred times more", "lut/formats/verify.py", "ALLOWED = 2e-5", "ALLOWED = 2e-3", _VERIFY),
    Mutation("the independent reader is not compared", "lut/formats/verify.py", "if not worst <= ALLOWED:", "if False:", _VERIFY),
    Mutation("a code is cut off instead of rounded", "pictures/stills/write.py", "    codes += 0.5\n", "", _STILLS),
    Mutation("NaN is written", "pictures/stills/write.py", "    if not finite.all():", "    if False:", _STILLS),
    Mutation("a PNG says that it is sRGB", "pictures/stills/write.py", 'spec.attribute("oiio:ColorSpace", "raw")', "pass", _STILLS),
    Mutation("WebP with loss", "pictures/stills/write.py", '"lossless": True', '"lossless": False', _STILLS),
]
# fmt: on
