"""Twenty framings of the workshop under one light, each lamp group by itself, for tests/benchmarks/series_table.py.

usage: framings.py WIDTH SPP OUTDIR [NAME ...]; light adds up, so a change of light is another weight for a group.
"""
import os, sys, subprocess, time
import numpy as np
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

GROUPS = ("window", "lamps", "key")
H = (-0.02, 2.58, 1.50)
# name: where the camera stands, what it looks at, field of view in degrees, who is there, aperture
FRAMINGS = {
    "close": ((0.76, 1.26, 1.47), (0.03, 2.61, 1.515), 26, "mk1", 0.008),
    "close_b": ((0.68, 1.30, 1.51), (0.03, 2.61, 1.515), 26, "mk2", 0.008),
    "close_long": ((0.76, 1.26, 1.47), (0.03, 2.61, 1.515), 19, "mk1", 0.008),
    "close_short": ((0.66, 0.90, 1.50), (0.05, 2.65, 1.45), 36, "mk2", 0.008),
    "close_empty": ((0.76, 1.26, 1.47), (0.03, 2.61, 1.515), 26, "", 0.008),
    "close_other": ((0.42, 1.16, 1.50), (0.00, 2.60, 1.50), 28, "mk1", 0.008),
    "close_soft": ((0.74, 1.22, 1.49), (0.04, 2.60, 1.52), 22, "mk1", 0.020),
    "mid": ((0.80, 0.30, 1.45), (0.08, 2.68, 1.45), 36, "mk1", 0.008),
    "mid_empty": ((0.80, 0.30, 1.45), (0.08, 2.68, 1.45), 36, "", 0.008),
    "mid_low": ((0.50, 0.40, 1.12), (0.05, 2.90, 1.45), 40, "mk1", 0.008),
    "mid_high": ((0.40, 0.20, 1.95), (0.05, 3.00, 1.25), 40, "mk2", 0.008),
    "mid_wide": ((0.75, 0.15, 1.50), (-0.20, 3.40, 1.45), 48, "mk1", 0.008),
    "mid_long": ((0.80, 0.30, 1.45), (0.08, 2.68, 1.45), 24, "mk2", 0.008),
    "mid_other": ((0.62, 0.45, 1.42), (-0.10, 3.20, 1.45), 40, "mk2", 0.008),
    "wall_other": ((-0.20, 1.05, 1.45), (-0.60, 4.40, 1.50), 44, "", 0.008),
    "shelf": ((0.10, 1.10, 1.50), (-1.30, 4.40, 1.30), 26, "", 0.008),
    "wall": ((0.10, 1.10, 1.50), (-1.10, 4.40, 1.50), 40, "", 0.008),
    "wall_long": ((0.10, 1.10, 1.50), (-1.10, 4.40, 1.50), 27, "", 0.008),
    "window": ((0.00, 0.60, 1.50), (1.20, 4.20, 1.52), 44, "mk1", 0.010),
    "bench": ((0.25, 0.95, 1.62), (0.62, 3.00, 1.10), 42, "mk2", 0.010),
}


def build(name, size, spp):
    import scene as sc, shapes as S
    from common import area, camera
    origin, target, fov, who, aperture = FRAMINGS[name]
    b = sc.B(); of = {}

    def lit(group, fn, *a, **k):
        n0 = b.n; fn(*a, **k)
        for i in range(n0 + 1, b.n + 1): of["s%04d" % i] = group

    lit("window", sc.room, b, sky=0.22, cool=2.0, cool2=0.6)
    sc.wall_dressing(b); sc.bench(b)
    lit("lamps", sc.shade_lamp, b, (-2.45, 4.42, 1.30), 260.0)
    lit("lamps", sc.pendant, b, (-0.52, 4.05, 1.66), 34.0)
    lit("lamps", sc.arm_lamp, b, (0.36, 4.30, 0.97), (0.10, 4.25, 1.36), (-0.1, 4.1, 1.0), 40.0)
    b.box((0.20, 4.38, 0.955), (1.1, 0.36, 0.03), sc.M("oak"))
    if who:
        pose = S.Pose(pitch=0.34, yaw=0.06, at=(0, 0.075, 1.600)) if who == "mk1" else S.Pose(pitch=0.44, yaw=-0.10, roll=0.05, at=(0, 0.080, 1.592))
        sc.maker(b, pose=pose, tag=who); sc.work_violin(b)
    head = np.array(H)
    lit("key", b.rect, (1.06, 2.62, 1.74), head, 0.36, 0.36, area(sc.WARM, 76.0)); b.box((0.93, 2.92, 1.7), (0.5, 0.02, 1.3), sc.mmat("black"))
    lit("key", b.rect, (-0.7, 0.9, 1.8), head, 1.6, 1.2, area(sc.COOL, 0.36))
    lit("key", b.rect, (-1.55, 2.75, 2.25), head, 0.5, 0.5, area(sc.COOL, 13.0))
    b.d["sensor"] = camera(origin, target, fov, focus=head + (0.07, -0.07, 0.02) if "close" in name else np.array([0.0, 3.4, 1.4]), aperture=aperture, size=size, spp=spp)
    return b.d, of


def one_pass(name, width, spp, path):
    import common as C, mitsuba as mi
    mi.set_log_level(mi.LogLevel.Error)
    d, of = build(name, (width, width * 9 // 16), spp)
    glow = [k for k, v in d.items() if isinstance(v, dict) and "emitter" in v]
    stray = [k for k in glow if k not in of]
    assert not stray, stray
    out = {}
    for group in GROUPS:
        only = {k: ({n: x for n, x in v.items() if n != "emitter"} if k in glow and of[k] != group else v) for k, v in d.items()}
        out[group] = C.render(mi.load_dict(only), spp, "colour")[0][..., :3]
    a = C.render(mi.load_dict(d), 8, "aov")[0]
    np.savez(path, aov=a[..., -6:], **out)


def main():
    width, spp, out = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    import common as C
    os.makedirs(out, exist_ok=True)
    for name in sys.argv[4:] or FRAMINGS:
        path, t = os.path.join(out, name + ".npz"), time.time()
        if os.path.exists(path): continue
        raw = os.path.join(out, name + "_raw.npz")
        for _ in range(4):
            if subprocess.run([sys.executable, os.path.abspath(__file__), "--pass", name, str(width), str(spp), raw]).returncode == 0: break
        else: raise SystemExit("no pass " + name)
        r = dict(np.load(raw)); os.remove(raw)
        np.savez_compressed(path, **{g: C.denoise(C.xyz_to_acescg(r[g], 4300), r["aov"][..., :3], r["aov"][..., 3:]).astype(np.float32) for g in GROUPS})
        print(name, round(time.time() - t), "s", flush=True)


if __name__ == "__main__":
    one_pass(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), sys.argv[5]) if sys.argv[1] == "--pass" else main()
