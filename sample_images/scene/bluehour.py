"""Set-up `bluehour`: the workshop's front after sunset, lamps lit inside and over the door.

    python render.py bluehour 1280 16 OUT
"""
import numpy as np
import shapes as S
import spectra as sp
from common import T, area, camera, coat, matte, mix
from people import HOLD, HOLDING, facing, held_violin, person
from scene import HANDS, TUNG, M, arm_lamp, arms_work, frame, lathe, matte_, mmat, pendant, ply, shade_lamp, shared, tx, violin
from outdoors import branch, brickwork, dome, foliage, setts

X0, X1, H, Y = -3.6, 2.1, 2.45, 2.0            # the front: left, right, height of the eaves, distance
WINDOW, DOOR = (-1.75, -0.15, 0.92, 2.04), (0.55, 1.40, 0.0, 2.06)   # x0, x1, z0, z1


def gable():
    return shared("gable", lambda: brickwork(5, 38, 20, 0.9))


def front(b):
    # pieces round the openings rather than one sheet with holes, whose bricks the denoiser saw across the holes
    xs = sorted({X0, X1, *WINDOW[:2], *DOOR[:2]}); zs = sorted({0.0, H, *WINDOW[2:], *DOOR[2:]})
    v, f = [], []
    for x0, x1 in zip(xs, xs[1:]):
        for z0, z1 in zip(zs, zs[1:]):
            if any(o[0] <= x0 and x1 <= o[1] and o[2] <= z0 and z1 <= o[3] for o in (WINDOW, DOOR)):
                continue
            n = len(v)
            v += [(x0, Y, z0), (x1, Y, z0), (x1, Y, z1), (x0, Y, z1)]; f += [(n, n + 1, n + 2), (n, n + 2, n + 3)]
    v = np.array(v)
    uv = np.stack([(v[:, 0] - X0) / (X1 - X0), v[:, 2] / H], -1)
    S.write_ply("bh_wall", v, np.array(f), np.tile([0.0, -1, 0], (len(v), 1)), uv)
    b.add(ply("bh_wall"), brickwork(2, 38, 24, 1.0))
    b.add({"type": "rectangle"}, gable(), m=T().translate([X1, Y + 1.5, H / 2]).rotate([0, 0, 1], 90).rotate([1, 0, 0], 90).scale([1.5, H / 2, 1]))
    paint = {"type": "twosided", "bsdf": coat("enamel", 0.25, 1.3)}
    x0, x1, z0, z1 = WINDOW
    for xx in (x0, x1):   # reveals, frame, bars
        b.box((xx, Y + 0.10, (z0 + z1) / 2), (0.05, 0.20, z1 - z0), mmat("stone", 1.2))
    for n in range(5):
        xx = x0 + (x1 - x0) * n / 4
        b.box((xx, Y + 0.12, (z0 + z1) / 2), (0.06 if n in (0, 4) else 0.03, 0.06, z1 - z0), paint)
    for zz, t in ((z0, .07), (z1, .07), (z0 + (z1 - z0) * 0.62, .03)):
        b.box(((x0 + x1) / 2, Y + 0.12, zz), (x1 - x0, 0.06, t), paint)
    b.box(((x0 + x1) / 2, Y - 0.04, z0 - 0.05), (x1 - x0 + 0.24, 0.30, 0.07), mmat("stone", 1.4))
    b.box(((x0 + x1) / 2, Y - 0.01, z1 + 0.11), (x1 - x0 + 0.3, 0.06, 0.20), mmat("stone", 1.2))
    x0, x1, z0, z1 = DOOR
    for xx in (x0, x1):
        b.box((xx, Y + 0.08, z1 / 2), (0.08, 0.20, z1), paint)
    b.box(((x0 + x1) / 2, Y + 0.08, z1), (x1 - x0 + .08, 0.20, 0.09), paint)
    b.box(((x0 + x1) / 2, Y - 0.18, 0.06), (x1 - x0 + 0.4, 0.42, 0.12), mmat("stone", 1.3))
    # the door leaf, opened inwards, and the roof
    b.box((x0 + 0.06, Y + 0.50, 1.05), (0.045, 0.82, 2.06), paint)
    b.box((-0.75, Y + 0.55, H + 0.40), (X1 - X0 + 0.5, 1.95, 0.05), mix(tx("plank"), coat("slate", 0.3, 1.3), coat("slate_dark", 0.3, 1.3), (6, 4)), rx=28)
    b.box((-0.75, Y + 2.27, H + 0.40), (X1 - X0 + 0.5, 1.95, 0.05), mmat("slate", 1.3), rx=-28)
    v = np.array([(X1, Y, H - .02), (X1, Y + 3.0, H - .02), (X1, Y + 1.41, H + 0.80)])
    S.write_ply("bh_gable", v, np.array([(0, 1, 2)]), np.tile([1.0, 0, 0], (3, 1)), np.stack([(v[:, 1] - Y) / 3, v[:, 2] / H], -1))
    b.add(ply("bh_gable"), gable())
    b.box((-2.1, Y + 1.5, H + 1.0), (0.55, 0.45, 1.3), shared("stack", lambda: brickwork(6, 14, 6, 0.9)))
    b.rod((X0 - .2, Y - 0.24, H - 0.02), (X1 + .2, Y - 0.24, H - 0.02), 0.055, mmat("steel", .3))
    b.rod((X1 - 0.10, Y - 0.06, 0), (X1 - 0.10, Y - 0.06, H), 0.04, mmat("steel", .3))


def inside(b):
    back, left = Y + 3.0, -3.2
    b.add({"type": "rectangle"}, M("plaster"), m=T().translate([-0.7, back, 1.21]).rotate([1, 0, 0], 90).scale([2.8, 1.21, 1]))
    for xx, s in ((left, 1), (X1 - .02, -1)):
        b.add({"type": "rectangle"}, matte("plaster", .8), m=T().translate([xx, Y + 1.5, 1.21]).rotate([0, 1, 0], 90 * s).scale([1.21, 1.5, 1]))
    b.add({"type": "rectangle"}, M("floor"), m=T().translate([-0.7, Y + 1.5, 0.01]).scale([2.8, 1.5, 1]))
    b.add({"type": "rectangle"}, matte("plaster_dark", .8), m=T().translate([-0.7, Y + 1.5, 2.42]).rotate([1, 0, 0], 180).scale([2.8, 1.5, 1]))
    for i, (x, fin) in enumerate(((-1.75, "varnish"), (-0.84, "white"), (-0.50, "varnish"))):   # hung in the window
        z0 = 1.98 - 0.62
        m = frame((x, Y + 0.42, z0), np.array([0.0, 0, 1]), np.array([-1.0, 0, 0]), np.array([0, -1.0, 0]))
        m[:3, :3] = S.rotz((0.35, -0.2, 0.5)[i]) @ m[:3, :3]
        violin(b, m, fin, fittings=False); b.rod((x, Y + 0.42, 1.95), (x, Y + 0.42, 2.4), 0.003, M("steel"))
    b.box((-1.8, Y + 0.95, 0.88), (1.7, 0.7, 0.06), M("oak")); b.box((-1.8, Y + 0.95, 0.45), (1.6, 0.6, 0.8), M("old"))
    b.box((-1.6, back - .16, 1.28), (2.2, 0.28, 0.035), M("oak"))
    rng = np.random.default_rng(2); x = -2.6
    while x < -0.55:
        w = rng.uniform(.02, .05); hh = rng.uniform(.16, .30)
        b.box((x, back - .15, 1.30 + hh / 2), (w * .9, .2, hh), M("billet") if rng.random() < .6 else M("maplew")); x += w
    pendant(b, (-1.50, Y + 1.05, 1.80), 150.0)
    shade_lamp(b, (1.35, back - 0.25, 0.95), 170.0); b.box((1.3, back - .25, 0.92), (1.0, 0.4, 0.05), M("oak"))
    shade_lamp(b, (-2.55, back - .16, 1.30), 190.0)
    b.rect((-1.7, Y + 1.9, 2.38), (-1.7, Y + 2.1, 0.0), 1.6, 0.7, area(TUNG, 20.0))   # a second row of lamps under the ceiling
    b.rect((0.9, Y + 1.9, 2.38), (0.9, Y + 2.1, 0.0), 0.5, 0.5, area(TUNG, 24.0))
    person(b, "maker", (-1.98, Y + 1.42, 0.0), facing(0.62, -0.78), S.Pose(pitch=0.40, yaw=0.0, at=(0, 0.075, 1.600)), arms_work(), HANDS, "bm", shirt="linen", legs=False)


def lantern(b, at, on):
    x, y, z = at
    b.rod((x, Y, z + 0.16), (x, y, z + 0.16), 0.010, M("black")); b.rod((x, y, z + 0.16), (x, y, z + 0.10), 0.008, M("black"))
    lathe(b, "lantop", [(0.105, 0.055), (0.09, 0.075), (0.05, 0.10), (0.012, 0.115)], M("black"), at)
    lathe(b, "lantopin", [(0.1035, 0.0545), (0.0885, 0.0745), (0.0485, 0.0995)], M("white_in"), at)
    b.add({"type": "sphere", "center": [x, y, z], "radius": 0.066}, matte_("black"), area(TUNG, on))


def setup(b, size, spp):
    k = 0.23
    dome(b, [(-90, (.01, .012, .02)), (-1, (.25 * k, .3 * k, .45 * k)), (0, (1.25 * k, 1.10 * k, 1.20 * k)), (5, (1.05 * k, 1.12 * k, 1.50 * k)), (14, (.66 * k, .95 * k, 1.65 * k)), (30, (.36 * k, .66 * k, 1.42 * k)), (60, (.21 * k, .42 * k, 1.05 * k)), (90, (.17 * k, .34 * k, .90 * k))], clouds=0.25, seed=9)
    b.add({"type": "rectangle"}, setts(wet=0.65, rows=52, seed=11), m=T().translate([0.5, 0.5, 0]).scale([6, 5, 1]))
    b.add({"type": "rectangle"}, mix(tx("dirt"), matte_("grass", .7), matte_("moss", .7), (20, 20)), m=T().translate([0, 40, -0.01]).scale([80, 80, 1]))
    front(b); inside(b)
    lantern(b, (1.80, Y - 0.40, 2.00), 110.0)
    # the next lantern, out of frame, on the figure alone
    b.d["beam"] = {"type": "spot", "to_world": T().look_at(origin=[3.35, -1.25, 2.25], target=[1.14, 1.40, 1.42], up=[0, 0, 1]), "intensity": sp.tex(TUNG, 85.0), "cutoff_angle": 15.0, "beam_width": 5.0}
    b.rect((2.5, -8.0, 6.0), (0.4, 2.0, 1.2), 9.0, 6.0, area(sp.daylight(13000), 0.38))   # the western sky, behind the camera
    # the apprentice on the step, in the light of the door and the lantern
    fig = person(b, "apprentice", (1.12, Y - 0.62, 0.02), facing(0.60, -0.80), S.Pose(pitch=0.14, yaw=0.08, at=(0, 0.075, 1.600)), HOLD, HOLDING, "bh", shirt="linen")
    held_violin(b, fig)
    # vine, tubs, a bench by the wall, bare and leafy trees beyond
    foliage(b, "bh_vine", (-2.6, Y - 0.14, 1.9), (0.75, 0.14, 1.0), 2600, 0.08, 1)
    foliage(b, "bh_vine2", (-1.2, Y - 0.12, 2.52), (1.2, 0.12, 0.2), 1100, 0.075, 2)
    b.box((-0.95, Y - 0.36, 0.44), (1.5, 0.34, 0.05), M("oak"))
    for s in (-.6, .6):
        b.box((-0.95 + s, Y - 0.36, 0.21), (0.08, 0.30, 0.42), M("old"))
    prof = [(0.001, 0), (0.09, 0.0), (0.13, 0.20), (0.14, 0.20), (0.14, 0.235), (0.12, 0.235), (0.11, 0.20), (0.001, 0.19)]
    for i, (x, y, sc) in enumerate(((0.18, Y - 0.32, 1.3), (2.45, Y - 0.1, 1.6))):
        m = np.eye(4); m[:3, :3] *= sc
        lathe(b, "plantpot", prof, {"type": "twosided", "bsdf": coat("brick", 0.4, 1.1)}, (x, y, 0.0), m)
        foliage(b, "bh_pot%d" % i, (x, y, 0.44 * sc), (0.20 * sc, 0.20 * sc, 0.24 * sc), 420, 0.06, 10 + i)
    branch(b, [(4.9, 9, 0), (4.8, 9, 1.6), (4.6, 9, 3.0), (4.3, 9, 4.4)], 0.20, 0.06)
    branch(b, [(4.7, 9, 2.2), (5.4, 9, 3.2), (5.9, 9, 4.0)], 0.09, 0.03)
    foliage(b, "bh_tree", (4.5, 9, 4.4), (1.3, 1.0, 1.0), 2600, 0.12, 4); foliage(b, "bh_tree2", (5.8, 9.3, 3.9), (1.0, 1.0, .8), 1700, 0.12, 5)
    foliage(b, "bh_far", (7, 26, 1.6), (8, 2, 1.7), 7000, 0.24, 7)
    for x, y, z in ((6.6, 30, 2.2), (7.0, 30, 2.2), (10.2, 34, 2.6)):   # lit windows far off
        b.rect((x, y - 8.2, z), (x, 0, z), 0.22, 0.34, area(TUNG, 1.6))
    cam = camera((2.55, -3.30, 1.42), (0.83, 2.0, 1.67), 47, focus=(1.5, 1.4, 1.5), aperture=0.006, size=size, spp=spp)
    return cam, 4400
