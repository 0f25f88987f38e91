"""Set-up `sunny`: the maker looks over a finished violin in the sun before the workshop, blue sky, leaves.

    python render.py sunny 1280 16 OUT 2.6
"""
import numpy as np
import shapes as S
from common import T, camera, coat, matte, mix
from people import HOLD, HOLDING, ball, facing, held_violin, person
from scene import M, frame, matte_, mmat, tx, violin
from outdoors import branch, cloud, foliage


def front(b):
    """The workshop's limewashed front on the left, running away from the camera, with a window and a vine."""
    x0 = -1.75
    b.add({"type": "rectangle"}, mix(tx("plaster"), matte_("plaster", 1.0), matte_("plaster_dark", 1.05), (3, 1), bump=tx("fine"), bump_scale=0.01), m=T().translate([x0, 4.5, 1.4]).rotate([0, 0, 1], 90).rotate([1, 0, 0], 90).scale([5.0, 1.4, 1]))
    b.box((x0 + 0.02, 4.5, 0.18), (0.06, 10.0, 0.36), mix(tx("dirt"), matte_("stone", 1.3), matte_("stone_dark", 1.5), (8, 1)))
    paint = {"type": "twosided", "bsdf": coat("enamel", 0.3, 1.6)}
    for yc in (2.55, 5.4):
        b.box((x0 + 0.005, yc, 1.5), (0.03, 0.9, 1.15), coat("black", 0.03, 0.8, 1.52))
        for dy in (-0.45, 0, 0.45):
            b.box((x0 + 0.03, yc + dy, 1.5), (0.06, 0.05, 1.17), matte("paper", .95))
        for dz in (-0.575, 0, 0.575):
            b.box((x0 + 0.03, yc, 1.5 + dz), (0.06, 0.95, 0.05), matte("paper", .95))
        b.box((x0 + 0.07, yc, 0.89), (0.20, 1.15, 0.06), matte("stone", 1.6))
        for s in (-1, 1):
            b.box((x0 + 0.04, yc + s * 0.74, 1.5), (0.04, 0.50, 1.17), paint)
            for k in range(9):
                b.box((x0 + 0.065, yc + s * 0.74, 1.0 + 0.125 * k), (0.02, 0.40, 0.015), paint, ry=30)
    # eaves: rafters and tiles
    b.box((x0 + 0.20, 4.5, 2.84), (0.66, 10.2, 0.05), M("old"), ry=22)
    for k in range(34):
        b.box((x0 + 0.20, -0.4 + 0.30 * k, 2.78), (0.50, 0.07, 0.08), M("old"), ry=22)
    for k in range(64):
        b.rod((x0 + 0.52, -0.5 + 0.16 * k, 2.75), (x0 - 0.1, -0.5 + 0.16 * k, 3.01), 0.075, mmat("brick", .95))


def setup(b, size, spp):
    b.d["sky"] = {"type": "sunsky", "turbidity": 2.1, "sun_direction": [0.47, -0.73, 0.50], "sun_scale": 1.0, "sky_scale": 0.8, "albedo": 0.2}
    b.add({"type": "rectangle"}, mix(tx("dirt"), matte_("grass", .9), matte_("moss", .8), (40, 40)), m=T().scale([150, 150, 1]))
    b.add({"type": "rectangle"}, mix(tx("dirt"), matte_("stone", 1.5), matte_("plaster_dark", .75), (9, 9)), m=T().translate([0, 4, 0.004]).scale([2.6, 9, 1]))
    front(b)
    foliage(b, "sn_vine", (-1.62, 1.35, 2.0), (0.16, 0.75, 0.85), 1500, 0.075, 1)
    foliage(b, "sn_vine2", (-1.66, 4.0, 2.35), (0.16, 0.62, 0.5), 1100, 0.075, 2, "leaf_light", 1.0)
    # far: hedge, trees, a ridge
    foliage(b, "sn_hedge", (3.0, 15, 0.7), (7.5, 1.0, 1.1), 7000, 0.15, 3)
    foliage(b, "sn_tree", (4.2, 17, 3.4), (2.2, 2.0, 2.1), 7000, 0.20, 4)
    foliage(b, "sn_tree2", (0.4, 24, 2.6), (2.6, 2.0, 1.9), 5000, 0.22, 5, "leaf_light", .9)
    b.rod((4.2, 17, 0), (4.2, 17, 3), 0.2, mmat("bark"))
    ridge = np.diag([150.0, 60, 33, 1]); ridge[:3, 3] = (50, 170, -24)
    ball(b, mix(tx("dirt"), matte_("moss", .95), matte_("grass", .6), (30, 30)), ridge)
    # near: a branch with leaves across the upper right corner, against the sky
    branch(b, [(1.5, 1.7, 2.75), (1.05, 1.45, 2.42), (0.66, 1.25, 2.22), (0.40, 1.1, 2.14)], 0.024, 0.006)
    for k, (c, r, n) in enumerate((((1.02, 1.4, 2.38), (0.34, 0.28, 0.18), 230), ((0.62, 1.2, 2.17), (0.26, 0.22, 0.12), 130), ((1.30, 1.5, 2.15), (0.22, 0.22, 0.26), 150))):
        foliage(b, "sn_br%d" % k, c, r, n, 0.085, 20 + k, "leaf_light" if k != 1 else "leaf", 1.0)
    # violins drying on a line against the sky
    b.rod((-1.75, 2.3, 2.20), (2.6, 2.9, 2.32), 0.004, matte_("linen"))
    for xx, fin, a in ((-0.86, "white", 0.25), (-0.42, "varnish", -0.15)):
        y = 2.3 + (xx + 1.75) / 4.35 * 0.6; zt = 2.20 + (xx + 1.75) / 4.35 * 0.12
        m = frame((xx, y, zt - 0.64), np.array([0.0, 0, 1]), np.array([-1.0, 0, 0]), np.array([0, -1.0, 0]))
        m[:3, :3] = S.rotz(a) @ m[:3, :3]
        violin(b, m, fin, fittings=False); b.rod((xx, y, zt - 0.05), (xx, y, zt), 0.003, M("steel"))
    # the maker with the finished one
    fig = person(b, "maker", (0.42, 0.40, 0.0), facing(0.08, -0.99), S.Pose(pitch=0.09, yaw=0.06, at=(0, 0.075, 1.600)), HOLD, HOLDING, "sn", shirt="linen")
    held_violin(b, fig)
    cloud(b, (-22, 110, 25), 60, 16, 51); cloud(b, (46, 118, 33), 60, 14, 52, 0.9); cloud(b, (-2, 112, 10), 90, 9, 53, 0.8)
    cam = camera((0.02, -2.05, 1.20), (0.02, 1.0, 1.58), 43, focus=(0.38, 0.28, 1.6), aperture=0.009, size=size, spp=spp)
    return cam, 5600
