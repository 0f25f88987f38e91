"""Set-up `yard`: the timber yard after rain under a grey sky; a helper of middle skin sorts wood.

    python render.py yard 1280 16 OUT 1.1
"""
import numpy as np
import shapes as S
import spectra as sp
from common import T, area, camera, coat, matte, mix
from people import facing, person
from scene import M, matte_, mmat, shared, tx
from outdoors import boards, branch, brickwork, dome, foliage, log, setts

ARMS = {"L": dict(elbow=(-0.275, 0.070, 1.12), wrist=(-0.14, 0.30, 1.12)), "R": dict(elbow=(0.280, 0.045, 1.12), wrist=(0.16, 0.29, 1.12))}
HANDS = {"L": dict(fwd=(0.35, 0.85, 0.10), up=(-0.15, 0.10, -0.97), side=1, curl=(0.25, 0.28, 0.30, 0.35)),
         "R": dict(fwd=(-0.35, 0.85, 0.10), up=(0.15, 0.10, -0.97), side=-1, curl=(0.25, 0.28, 0.30, 0.35))}


def setup(b, size, spp):
    rng = np.random.default_rng(12)
    k = 0.50   # a sky a third as bright at the horizon as overhead, after the standard overcast sky
    dome(b, [(-90, (.05, .05, .05)), (-1, (.2 * k, .21 * k, .22 * k)), (0, (.56 * k, .60 * k, .655 * k)), (15, (.78 * k, .83 * k, .89 * k)), (35, (1.12 * k, 1.18 * k, 1.25 * k)), (90, (1.62 * k, 1.70 * k, 1.80 * k))], clouds=0.85, seed=31)
    # the brightest part of the cloud cover, behind the camera
    b.rect((-3.2, -7.0, 6.5), (0.6, 2.5, 1.2), 9.0, 6.0, area(sp.daylight(6600), 6.3))
    b.rect((-1.45, 0.25, 1.75), (0.60, 1.6, 1.5), 1.2, 1.2, area(sp.daylight(6300), 8.0))   # a white frame that catches the sky for the face
    b.add({"type": "rectangle"}, setts(wet=0.55, rows=46), m=T().translate([0, 3.0, 0]).scale([4.6, 4.6, 1]))
    b.add({"type": "rectangle"}, mix(tx("dirt"), matte_("moss", .9), matte_("bark", .9), (20, 20)), m=T().translate([0, 40, -0.01]).scale([80, 80, 1]))
    # the wall behind, with ivy and a coping; the gable of the workshop left
    b.add({"type": "rectangle"}, brickwork(2, 32, 30, 1.35, "moss"), m=T().translate([0.3, 5.2, 0.85]).rotate([1, 0, 0], 90).scale([5.2, 0.85, 1]))
    b.box((0.3, 5.2, 1.73), (10.4, 0.34, 0.07), mix(tx("dirt"), matte_("stone", 1.0), matte_("moss", .8), (12, 1)))
    foliage(b, "yd_ivy", (2.35, 5.08, 1.25), (1.0, 0.16, 0.70), 2600, 0.085, 1)
    foliage(b, "yd_ivy2", (3.3, 5.0, 1.1), (0.8, 0.18, 1.1), 1800, 0.085, 2, "leaf_light", .85)
    foliage(b, "yd_fern", (1.62, 4.75, 0.25), (0.45, 0.25, 0.28), 500, 0.09, 3, "leaf_light", .9)
    # an oak behind the wall, a far hedge line
    branch(b, [(-0.5, 9.5, 0), (-0.4, 9.5, 1.8), (-0.1, 9.4, 3.2), (0.3, 9.3, 4.6)], 0.26, 0.10)
    branch(b, [(-0.3, 9.45, 2.4), (-1.1, 9.2, 3.3), (-1.9, 9.0, 3.9)], 0.12, 0.04)
    branch(b, [(-0.1, 9.4, 2.9), (0.8, 9.2, 3.6), (1.7, 9.0, 4.1)], 0.11, 0.04)
    foliage(b, "yd_oak", (-1.7, 9.1, 4.1), (1.3, 1.2, 0.9), 3600, 0.13, 4)
    foliage(b, "yd_oak2", (1.5, 9.1, 4.2), (1.3, 1.2, 0.8), 3400, 0.13, 5)
    foliage(b, "yd_oak3", (0.2, 9.3, 4.9), (1.5, 1.2, 0.8), 3400, 0.13, 6)
    foliage(b, "yd_far", (5.5, 22, 2.2), (5, 1.5, 1.6), 5000, 0.24, 7)
    foliage(b, "yd_far2", (-7, 24, 2.0), (5, 1.5, 1.9), 5000, 0.24, 8)
    # open shed on the left: posts, a tiled roof, boards on sticks under it
    for y in (1.6, 3.4, 5.0):
        b.box((-1.15, y, 1.12), (0.11, 0.11, 2.24), M("old"))
    b.box((-1.15, 3.3, 2.22), (0.12, 3.9, 0.14), M("old"))
    b.box((-2.30, 3.3, 2.62), (2.6, 4.2, 0.04), matte("bark_dark"), ry=-20 + 40)
    for j in range(26):
        yy = 1.3 + 0.16 * j
        b.rod((-1.02, yy, 2.22), (-3.4, yy, 3.10), 0.07, mmat("brick_dark" if j % 3 else "brick", .95))
    boards(b, (-1.95, 2.35, 0.10), 86, 11, 4, (2.2, 1.05, 0.045), rng, ("new", "billet", "grey", "maple"))
    boards(b, (-1.95, 4.55, 0.10), 88, 9, 4, (1.7, 1.05, 0.045), rng, ("grey", "red", "new"))
    for y in (1.5, 2.35, 3.2, 4.0, 5.0):
        b.box((-1.95, y, 0.05), (1.1, 0.10, 0.10), M("old"))
    # logs by the wall, a splitting block, the stack at which the apprentice stands
    r = 0.135
    for row in range(5):
        for j in range(7 - row):
            rr = r * rng.uniform(0.82, 1.0)
            log(b, (-0.62 + (j + row * 0.5) * 2 * r * 1.0 + rng.uniform(-.01, .01), 4.05 + rng.uniform(-.06, .06), rr + row * r * 1.72), rr, 0.95)
    z = boards(b, (1.62, 2.75, 0.16), 14, 9, 3, (1.7, 0.72, 0.040), rng, ("new", "billet", "maple", "new"))
    for s in (-0.6, 0.6):
        b.box((1.62 + s * .97, 2.75 + s * .24, 0.08), (0.16, 0.7, 0.16), mmat("stone", 1.2), rz=14)
    b.box((1.55, 2.70, 0.16 + z + 0.05), (0.42, 0.14, 0.10), M("maplew"), rz=30)
    b.rod((-0.35, 2.25, 0), (-0.35, 2.25, 0.46), 0.20, mmat("bark"))
    b.add({"type": "disk"}, shared("block", lambda: mix(tx("speckle"), matte_("spruce", .6), matte_("oak_dark", .9))), m=T().translate([-0.35, 2.25, 0.461]).scale([0.20, 0.20, 1]))
    for a in range(14):   # chips of wood round the block
        t = rng.uniform(0, 6.28); q = rng.uniform(0.25, 0.75)
        b.box((-0.35 + q * np.cos(t), 2.25 + q * np.sin(t), 0.012), (0.14, 0.035, 0.02), M("billet"), rz=rng.uniform(0, 180), rx=rng.uniform(-8, 8))
    # the helper (the apprentice's shape, another skin), a wedge of maple in the hands
    fig = person(b, "apprentice", (0.66, 1.72, 0.0), facing(-0.40, -0.92), S.Pose(pitch=0.10, yaw=0.05, at=(0, 0.075, 1.600)), ARMS, HANDS, "yd", shirt="ochre", tone="middle")
    c = (fig @ np.array([0.01, 0.375, 1.172, 1]))[:3]
    b.box(c, (0.46, 0.15, 0.045), M("maplew"), rz=np.degrees(facing(-0.40, -0.92)) + 3, rx=-4)
    cam = camera((0.25, -1.75, 1.72), (0.22, 2.4, 1.32), 49, focus=(0.62, 1.6, 1.5), aperture=0.008, size=size, spp=spp)
    return cam, 6300
