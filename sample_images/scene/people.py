"""Two people for the further stills: the maker of the first six, and an apprentice with dark skin.

The apprentice is the same distance field, warped (nose, lips, jaw), with cropped hair and no beard or spectacles.
"""
import hashlib
import os
import pickle
import numpy as np
import common as C
import shapes as S
import spectra as sp
from common import coat, matte, mix
from scene import M, frame, matte_, mmat, ply, shared, tx, violin

WHO = {"maker": {"skin": ("skin", "skin_red", "lips"), "levels": (0.92, 0.90), "beard": True},
       "apprentice": {"skin": ("skin_deep", "skin_deep_red", "lips_deep"), "levels": (1.0, 1.0), "beard": False}}
CLOTHES = {"blue": ("shirt", "shirt_dark", 0.62), "ochre": ("ochre", "ochre_dark", 0.8), "linen": ("linen", "plaster_dark", 0.75),
           "wool": ("wool", "wool_dark", 1.0)}
HAIR = {"hair": ("hair", .75), "hair2": ("hair_grey", 1.0), "beard": ("hair", .9), "beard2": ("hair_grey", 1.15),
        "moustache": ("hair_grey", .85), "brow": ("hair", .8), "stubble": ("hair_grey", .8), "lash": ("hair", .3)}

# both hands on an instrument held before the chest
HOLD = {"L": dict(elbow=(-0.30, 0.05, 1.12), wrist=(-0.20, 0.27, 1.19)), "R": dict(elbow=(0.29, 0.02, 1.09), wrist=(0.235, 0.235, 1.03))}
HOLDING = {"L": dict(fwd=(0.10, 0.45, 0.88), up=(-0.75, -0.55, 0.25), side=1, curl=(0.75, 0.8, 0.85, 0.9), thumb=(0.75, 0.6, -0.2)),
         "R": dict(fwd=(-0.55, 0.80, 0.10), up=(0.15, -0.15, -0.97), side=-1, curl=(0.35, 0.4, 0.45, 0.5))}

SLEEVE = 0.40   # a forearm begins here between elbow and wrist, inside the sleeve's end, else the elbow shows


def facing(x, y):
    """The turn of a figure (which faces +y in its own frame) towards (x, y)."""
    return -np.arctan2(x, y)


def warp(hp):
    """Head frame: a broader nose, fuller lips, a narrower jaw."""
    x, y, z = hp.T
    x, y, z = x.copy(), y.copy(), z.copy()
    front = np.clip((y - 0.06) / 0.03, 0, 1)
    x *= 1 + 0.24 * front * np.exp(-((z + 0.043) / 0.013) ** 2 - (x / 0.03) ** 2)
    y -= 0.0035 * front * np.exp(-((z + 0.030) / 0.022) ** 2 - (x / 0.016) ** 2)
    y += 0.0030 * front * np.exp(-((z + 0.0722) / 0.010) ** 2 - (x / 0.022) ** 2)
    x *= 1 - 0.05 * np.clip((-0.02 - z) / 0.06, 0, 1) * np.clip((z + 0.20) / 0.06, 0, 1)
    z = z * np.where(z < 0, 0.97, 1.0)
    return np.stack([x, y, z], -1)


def cropped(pose, head, prefix, count=70000, seed=8):
    """Short, tightly curled hair over the scalp, with brows and lashes from the common ones."""
    v, f, n, hp = head
    rng = np.random.default_rng(seed)
    hn = n @ pose.R
    x, y, z = hp.T
    line = np.interp(y, [-0.12, -0.06, -0.03, 0.0, 0.018, 0.028, 0.045, 0.070, 0.095],
                     [-0.060, -0.050, -0.015, -0.016, 0.004, 0.040, 0.062, 0.072, 0.080])
    ear = (np.abs(x) > 0.0745) & (y < 0.012) & (y > -0.045) & (z < 0.028) & (z > -0.055)
    p, nn = S.sample_surface(hp, f, hn, count, rng, (z > line) & ~ear)
    t = np.linspace(0, 1, 6)
    a = rng.random(count) * 6.28
    u = np.cross(nn, rng.standard_normal((count, 3))); u /= np.linalg.norm(u, axis=1, keepdims=True)
    w = np.cross(nn, u)
    turn = a[:, None] + 7.5 * t[None]
    length = 0.0085 * rng.uniform(0.6, 1.25, count)
    r = 0.0019
    s = p[:, None] + nn[:, None] * (length[:, None] * t[None])[..., None] + r * (
        u[:, None] * (np.cos(turn) - np.cos(a)[:, None])[..., None] + w[:, None] * (np.sin(turn) - np.sin(a)[:, None])[..., None])
    s -= nn[:, None] * 0.0006
    s = pose.to_fig(s.reshape(-1, 3)).reshape(s.shape)
    return S.write_curves(prefix + "crop", s, np.repeat((7.5e-5 * np.array([1, 1, 1, .9, .8, .4]))[None], count, 0))


def meshes(who, pose, arms, hands, tag, headh):
    """Writes the meshes of one person in one pose, once; returns the files of hair and spectacles."""
    text = open(S.__file__).read() + open(__file__).read().split("def meshes")[0]
    sig = hashlib.md5((repr((who, pose.R.round(5).tolist(), pose.t.round(5).tolist(), arms, hands, headh)) + text).encode()).hexdigest()[:10]
    p = "%s_%s" % (tag, sig)
    kept = os.path.join(S.CACHE, p + ".pkl")
    if os.path.exists(kept):
        return pickle.load(open(kept, "rb"))
    head = S.skin_head(pose, p + "_head", h=headh)
    if who == "apprentice":
        v, f, n, hp = head
        hp = warp(hp); v = pose.to_fig(hp).astype(np.float32)
        uv = np.stack([0.5 + np.arctan2(hp[:, 0], hp[:, 1]) / (2 * np.pi), (hp[:, 2] + 0.26) / 0.42], -1)
        S.write_ply(p + "_head", v, f, n, uv.astype(np.float32))
        head = (v, f, n, hp)
    hair = S.hair_curves(pose, head, p + "_", scale=1.0)
    if who == "apprentice":
        hair = {k: hair[k] for k in ("brow", "lash")}
        hair["crop"] = cropped(pose, head, p + "_")
    S.shirt(p + "_shirt", arms); S.apron(p + "_apron", arms); S.trousers(p + "_trousers")
    for k in ("L", "R"):
        e, w = np.array(arms[k]["elbow"]), np.array(arms[k]["wrist"])
        S.arm_mesh(p + "_arm" + k, e + SLEEVE * (w - e), w, hands[k], h=0.0016)
    hair["_p"] = p
    pickle.dump(hair, open(kept, "wb"))
    return hair


def lip_mask(h=1024, w=2048):
    """Where the lips lie in the head's cylindrical texture: 1 on them, soft at the edge."""
    z = (np.arange(h)[::-1, None] + 0.5) / h * 0.42 - 0.26
    x = 0.097 * np.tan(np.clip(((np.arange(w)[None] + 0.5) / w - 0.5) * 2 * np.pi, -1.2, 1.2))
    top = -0.0722 + 0.0085 * np.clip(1 - (np.abs(x) / 0.0255) ** 1.8, 0, 1) - 0.0012 * np.exp(-(x / 0.004) ** 2)
    low = -0.0722 - 0.0100 * np.clip(1 - (np.abs(x) / 0.0250) ** 2.2, 0, 1)
    inside = np.minimum(top - z, z - low)
    return np.clip(inside / 0.0022 + 0.2, 0, 1).astype(np.float32) * (np.abs(x) < 0.026)


TONES = {who: (*v["skin"], *v["levels"]) for who, v in WHO.items()}
TONES["middle"] = ("skin_mid", "skin_mid_red", "lips", 1.0, 1.0)


def skin(tone):
    a, c, lips, la, lc = TONES[tone]
    def make():
        body = mix(tx("speckle"), coat(a, 0.34, la, 1.42), coat(c, 0.34, lc, 1.42), (3, 2), bump=tx("pores"), bump_scale=0.0003, two=False)
        return {"type": "blendbsdf", "weight": C.mask_bitmap(0.75 * lip_mask()), "a": body, "b": coat(lips, 0.28, 0.95, 1.42)}
    return shared(("skin", tone), make)


def limb_skin(tone):
    a, c, _, la, lc = TONES[tone]
    return shared(("limb", tone), lambda: mix(tx("speckle"), coat(a, 0.36, la, 1.42), coat(c, 0.36, lc, 1.42), (3, 2), bump=tx("pores"), bump_scale=0.0003, two=False))


def ball(b, bsdf, m):
    """An ellipsoid: the renderer's own sphere takes no unequal scale."""
    a = np.linspace(-np.pi / 2, np.pi / 2, 33)
    S.lathe("ball", list(zip(np.cos(a), np.sin(a))), 48)
    b.add(ply("ball"), bsdf, m=m)


def person(b, who, at, phi, pose, arms, hands, tag, shirt="blue", apron=True, headh=0.0011, legs=True, tone=None):
    """Adds one person standing at `at`, turned by `phi`, of another skin where `tone` says so; returns the figure's matrix."""
    tone = tone or who
    m = np.eye(4); m[:3, :3] = S.rotz(phi); m[:3, 3] = at
    got = meshes(who, pose, arms, hands, tag, headh); p = got["_p"]
    b.add(ply(p + "_head"), skin(tone), m=m)
    for k in ("L", "R"):
        b.add(ply(p + "_arm" + k), limb_skin(tone), m=m)
    lo, hi, level = CLOTHES[shirt]
    b.add(ply(p + "_shirt"), shared(("shirt", shirt), lambda: mix(tx("weave"), matte_(lo, level), matte_(hi, level), (2, 2))), m=m)
    if apron:
        b.add(ply(p + "_apron"), shared("apron", lambda: mix(tx("weave"), matte_("apron", 1.0), matte_("apron_dark", 1.0), (2, 2))), m=m)
    if legs:
        b.add(ply(p + "_trousers"), mmat("cloth_dark"), m=m)
        for s in (1, -1):
            mm = m @ np.array([[0.045, 0, 0, s * 0.10], [0, 0.13, 0, 0.05], [0, 0, 0.05, 0.045], [0, 0, 0, 1]])
            ball(b, shared("shoe", lambda: coat("black", 0.3)), mm)
    for k, path in got.items():
        if k in HAIR and (WHO[who]["beard"] or k in ("brow", "lash")):
            col = HAIR[k] if WHO[who]["beard"] else ("hair_black", 1.0)
            strand = {"type": "roughplastic", "diffuse_reflectance": sp.refl(*col), "alpha": 0.3, "int_ior": 1.4} if k[:4] in ("hair", "bear") else matte(*col)
            b.add({"type": "ply", "filename": path}, strand, m=m)
    if "crop" in got:
        b.add({"type": "ply", "filename": got["crop"]}, {"type": "roughplastic", "diffuse_reflectance": sp.refl("hair_black"), "alpha": 0.35, "int_ior": 1.4}, m=m)
    if WHO[who]["beard"]:
        b.add({"type": "ply", "filename": got["specs"]}, M("brass"), m=m)
    return m


def held_violin(b, fig, finish="varnish"):
    """The instrument that the pose `HOLD` carries, its top turned to whoever stands before the figure."""
    x = np.array([-0.86, 0.06, 0.46]); x /= np.linalg.norm(x)
    n = np.array([0.14, 0.80, 0.58]); n -= (n @ x) * x; n /= np.linalg.norm(n)
    violin(b, fig @ frame((0.185, 0.335, 1.055), x, np.cross(n, x), n), finish)
