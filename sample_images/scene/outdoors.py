"""What the three outdoor set-ups share: skies, clouds, setts, leaves, trees, stacks of wood."""
import numpy as np
import mitsuba as mi
import common as C
import shapes as S
import spectra as sp
import textures as X
from common import T, coat, matte, mix
from scene import M, matte_, mmat, ply, shared, tx


def leafy(name="leaf", scale=1.1, trans=0.7):
    """A thin leaf that scatters light back and through."""
    return shared(("leafy", name, scale, trans), lambda: {"type": "principledthin", "base_color": sp.refl(name, scale), "roughness": 0.45, "diff_trans": trans, "spec_trans": 0.0, "eta": 1.4})


def foliage(b, name, centre, radius, count, size, seed, kind="leaf", scale=1.1):
    S.leaves(name, centre, radius, count, np.random.default_rng(seed), size)
    b.add(ply(name), leafy(kind, scale))


def branch(b, pts, r0, r1):
    """A bent round branch through the points, thinner towards its end."""
    pts = np.asarray(pts, float); n = len(pts) - 1
    for i in range(n):
        b.rod(pts[i], pts[i + 1], r0 + (r1 - r0) * i / n, bark())


def bark():
    return shared("bark", lambda: mix(tx("dirt"), matte_("bark"), matte_("bark_dark"), (3, 3)))


def dome(b, rows, clouds=0.0, seed=3):
    """A sky as a picture on a sphere, 18 % grey = 0.18: rows are (elevation in degrees, linear BT.709 colour)."""
    h, w = 512, 1024
    el = np.degrees(np.pi / 2 - (np.arange(h) + 0.5) / h * np.pi)
    e, c = np.array([r[0] for r in rows], float), np.array([r[1] for r in rows], float)
    sky = np.stack([np.interp(el, e, c[:, k]) for k in range(3)], -1)[:, None].repeat(w, 1)
    if clouds:
        n = X.fbm(h, w, 5, 6, 0.55, seed, aspect=(1.6, 1.0)) - 0.5
        edge = np.linspace(0, 1, w)   # the seam of the sphere, blended away
        n = n * np.clip(np.minimum(edge, 1 - edge) * 12, 0, 1)[None]
        sky = sky * (1 + clouds * n * np.clip(el / 12, 0, 1)[:, None])[..., None]
    b.d["sky"] = {"type": "envmap", "bitmap": mi.Bitmap(np.ascontiguousarray(sky, np.float32)), "to_world": T().rotate([1, 0, 0], 90)}


def cloud(b, centre, width, height, seed, density=1.0, rz=0.0):
    """A far white sheet with a soft cloud-shaped opening to light: sunlit from the camera's side."""
    h, w = 384, 768
    yy, xx = np.meshgrid(np.linspace(-1, 1, h), np.linspace(-1, 1, w), indexing="ij")
    n = X.fbm(h, w, 4, 7, 0.56, seed, aspect=(1.0, 1.4))
    body = np.clip(1.15 - (xx ** 2 + (yy * 1.1) ** 2), 0, 1)
    a = np.clip((n * 0.75 + 0.55 * body - 0.72) * 3.2 * density, 0, 1) * np.clip(body * 4, 0, 1)
    tone = np.clip(0.25 + 0.9 * (n - 0.35) - 0.25 * yy, 0, 1)
    bs = {"type": "mask", "opacity": C.mask_bitmap(a * 0.92), "bsdf": {"type": "twosided", "bsdf": {"type": "blendbsdf", "weight": C.mask_bitmap(tone), "a": matte_("white", 0.62), "b": matte_("white", 0.95)}}}
    b.add({"type": "rectangle"}, bs, m=T().translate(list(centre)).rotate([0, 0, 1], rz).rotate([1, 0, 0], 90).scale([width / 2, height / 2, 1]))


def setts(wet=0.0, rows=40, seed=7, repeat=(1, 1)):
    """Granite setts; `wet` is the share of the ground under a film of water."""
    joint, body = X.bricks(1536, 1536, rows, rows // 2, seed)
    stone = {"type": "blendbsdf", "weight": C.mask_bitmap(body, repeat), "a": matte_("stone", 0.9), "b": matte_("stone_dark", 1.0)}
    dry = {"type": "blendbsdf", "weight": C.mask_bitmap(joint, repeat), "a": stone, "b": matte_("bark", 0.8)}
    relief = np.clip((1 - joint) * 0.8 + 0.2 * X.fbm(1536, 1536, 60, 4, 0.6, seed + 1), 0, 1)
    dry = {"type": "bumpmap", "arbitrary": C.mask_bitmap(relief, repeat), "scale": 0.02, "bsdf": dry}
    if not wet:
        return {"type": "twosided", "bsdf": dry}
    glossy = {"type": "blendbsdf", "weight": C.mask_bitmap(joint, repeat), "a": {"type": "blendbsdf", "weight": C.mask_bitmap(body, repeat), "a": coat("stone", 0.10, 0.42, 1.33), "b": coat("stone_dark", 0.08, 0.5, 1.33)}, "b": coat("bark_dark", 0.05, 0.6, 1.33)}
    glossy = {"type": "bumpmap", "arbitrary": C.mask_bitmap(relief, repeat), "scale": 0.006, "bsdf": glossy}
    n = X.fbm(1024, 1024, 5, 6, 0.55, seed + 2)
    film = np.clip((n - np.quantile(n, 1 - wet)) * 9 + 0.5, 0, 1)
    return {"type": "twosided", "bsdf": {"type": "blendbsdf", "weight": C.mask_bitmap(film), "a": dry, "b": glossy}}


def brickwork(seed=2, rows=50, cols=25, light=1.0, extra=None):
    mortar, body = X.bricks(2048, 3072, rows, cols, seed)
    face = {"type": "blendbsdf", "weight": C.mask_bitmap(mortar), "a": {"type": "blendbsdf", "weight": C.mask_bitmap(body), "a": matte_("brick", light), "b": matte_("brick_dark", light)}, "b": matte_("stone", 1.2 * light)}
    stain = np.clip(X.fbm(1024, 1536, 3, 6, 0.55, 41) * 1.3 - 0.45, 0, 0.6)
    face = {"type": "blendbsdf", "weight": C.mask_bitmap(stain), "a": face, "b": matte_(extra or "stone", 0.8)}
    return {"type": "twosided", "bsdf": {"type": "bumpmap", "arbitrary": C.mask_bitmap(1 - mortar), "scale": 0.008, "bsdf": face}}


def ends():
    """Growth rings on the sawn end of a log."""
    def make():
        yy, xx = np.mgrid[-1:1:256j, -1:1:256j]
        n = X.fbm(256, 256, 4, 4, 0.5, 17) - 0.5
        r = np.hypot(xx + 0.06, yy - 0.04) + 0.10 * n
        ring = (0.5 + 0.5 * np.sin(r * 60)) * 0.5 + 0.35 * (r > 0.9) + 0.3 * (n > 0.16)
        crack = np.exp(-((np.arctan2(yy, xx) - 0.8 + 0.3 * n) / 0.03) ** 2) * (r < 0.7)
        return mix(np.clip(ring + crack, 0, 1).astype(np.float32), matte_("spruce", .72), matte_("oak_dark", .9))
    return shared("ends", make)


def log(b, p, r, length, axis=(0, 1, 0)):
    """A log with its sawn end at `p`, lying along `axis` away from the end shown."""
    p = np.asarray(p, float); a = np.asarray(axis, float); a /= np.linalg.norm(a)
    b.rod(p, p + a * length, r, bark())
    b.add({"type": "disk"}, ends(), m=T().look_at(origin=list(p), target=list(p - a), up=[0.3, 0.2, 1]).scale([r, r, 1]))


def boards(b, at, rz, layers, across, size, rng, kinds=("grey", "new", "billet")):
    """A stack of sawn boards drying on sticks: size = length, whole width, thickness of a board."""
    L, W, t = size; ca, sa = np.cos(np.radians(rz)), np.sin(np.radians(rz))
    put = lambda x, y, z, s, mat, jit=0.0: b.box((at[0] + ca * x - sa * y, at[1] + sa * x + ca * y, at[2] + z), s, mat, rz=rz + jit)
    z = 0.0
    mats = {"grey": lambda: shared("bgrey", lambda: mix(tx("plank"), matte_("plaster_dark", .62), matte_("stone_dark", 1.1))),
            "new": lambda: shared("bnew", lambda: mix(tx("plank"), matte_("spruce", .78), matte_("spruce_dark", .8))),
            "red": lambda: shared("bred", lambda: mix(tx("plank"), matte_("brick", .95), matte_("brick_dark", .8))),
            "billet": lambda: M("billet"), "maple": lambda: shared("bmap", lambda: mix(tx("flame"), matte_("maple", .7), matte_("maple_dark", .7)))}
    for k in range(layers):
        for s in (-0.42, 0.0, 0.42):
            put(s * L, 0, z + 0.012, (0.035, W, 0.024), mats["grey"]())
        z += 0.024; w = W / across
        for j in range(across):
            put(rng.uniform(-.03, .03), (j - (across - 1) / 2) * w, z + t / 2, (L * rng.uniform(.94, 1.0), w * rng.uniform(.86, .96), t), mats[kinds[rng.integers(len(kinds))]](), rng.uniform(-.4, .4))
        z += t
    return z
