"""New renders of the sample scene, other framings and lights, with which surface each pixel is.

usage: others.py NAME WIDTH SPP OUTDIR; tests/benchmarks/breakdown_table.py reads OUTDIR.
"""
import os, sys, subprocess, time
import numpy as np
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

SETUPS = ["wide_left", "wide_dim", "wide_tight", "mid_pendant", "face_left", "face_soft", "face_front", "face_dusk", "hands", "window", "day_overcast", "day_close", "face_warm"]

def build(name, size, spp):
    import scene as sc, shapes as S, spectra as sp
    from common import area, camera
    tags = {}
    b = sc.B(); z = 0.92
    def tagged(tag, fn, *a, **k):
        n0 = b.n; out = fn(*a, **k)
        for i in range(n0 + 1, b.n + 1): tags["s%04d" % i] = tag
        return out
    def room(**k):
        n0 = b.n; sc.room(b, **k)
        ids = ["s%04d" % i for i in range(n0 + 1, b.n + 1)]
        for i, t in enumerate(ids): tags[t] = "room"
        tags[ids[0]] = tags[ids[1]] = "wall"
        # rectangles of the sky are 40 after the first 11 (6 planes, 3 beams, 2 dado)
        for t in ids[11:51]: tags[t] = "sky"
        for t in ids[51:]: tags[t] = "frame"
    def common():
        tagged("dressing", sc.wall_dressing, b); tagged("bench", sc.bench, b)
    def person(pose, tag):
        n0 = b.n
        sc.maker(b, pose=pose, tag=tag); ids = ["s%04d" % i for i in range(n0 + 1, b.n + 1)]
        for t in ids: tags[t] = "figure"
        tags[ids[0]] = "head"; tags[ids[1]] = tags[ids[2]] = "arm"
        for t in ids[6:]: tags[t] = "hair"
        tagged("instrument", sc.work_violin, b)
    lamp = lambda nm, fn, *a, **k: tagged("lamp:" + nm, fn, b, *a, **k)
    key = None; wb = 4300; figure = ""
    P = S.Pose
    if name == "wide_left":
        room(sky=0.35, cool=5.2, cool2=0.5); common(); person(P(pitch=0.42, at=(0, 0.075, 1.600)), "mk")
        lamp("pendant", sc.pendant, (0.84, 2.74, 1.80), 260.0); lamp("linen", sc.shade_lamp, (-2.20, 4.42, 1.30), 230.0)
        cam = camera((-1.3, -0.9, 1.5), (0.1, 3.2, 1.40), 46, focus=(-0.1, 2.6, 1.5), aperture=0.01, size=size, spp=spp); figure = "silhouette"
    elif name == "wide_dim":
        room(sky=0.08, cool=1.5, cool2=0.2); common(); person(P(pitch=0.42, at=(0, 0.075, 1.600)), "mk")
        lamp("pendant", sc.pendant, (0.6, 3.0, 1.95), 120.0); lamp("desk", sc.arm_lamp, (1.86, 2.80, z), (1.50, 2.62, z + 0.40), (1.22, 2.42, z), 150.0)
        lamp("linen", sc.shade_lamp, (-2.00, 4.42, 1.30), 90.0)
        cam = camera((0.5, -0.6, 1.25), (0.1, 3.0, 1.45), 44, focus=(-0.1, 2.6, 1.5), aperture=0.01, size=size, spp=spp); figure = "silhouette"
    elif name == "wide_tight":
        room(sky=0.25, cool=4.6, cool2=0.3); common(); person(P(pitch=0.30, yaw=0.2, at=(0, 0.075, 1.600)), "mk3")
        lamp("linen", sc.shade_lamp, (-1.45, 4.42, 1.30), 170.0)
        cam = camera((0.25, 0.2, 1.5), (-0.25, 3.2, 1.42), 38, focus=(-0.1, 2.6, 1.5), aperture=0.01, size=size, spp=spp); figure = "silhouette"
    elif name == "mid_pendant":
        room(sky=0.22, cool=3.0, cool2=0.6); common(); person(P(pitch=0.34, yaw=0.06, at=(0, 0.075, 1.600)), "mk1")
        lamp("pendant", sc.pendant, (0.55, 3.3, 1.82), 60.0); lamp("linen", sc.shade_lamp, (-2.1, 4.42, 1.30), 200.0)
        head = np.array([-0.02, 2.58, 1.50]); key = (1.06, 2.62, 1.74)
        b.rect(key, head, 0.36, 0.36, area(sc.WARM, 60.0)); b.rect((-0.7, 0.9, 1.8), head, 1.6, 1.2, area(sc.COOL, 0.8))
        cam = camera((0.8, 0.3, 1.45), head + (0.1, 0.1, -0.05), 36, focus=head, aperture=0.008, size=size, spp=spp)
    elif name.startswith("face") :
        room(sky=0.22, cool=2.0, cool2=0.6); common()
        head = np.array([-0.02, 2.58, 1.50])
        pose, tag = (P(pitch=0.34, yaw=0.06, at=(0, 0.075, 1.600)), "mk1") if name != "face_left" else (P(pitch=0.15, yaw=-0.35, at=(0, 0.075, 1.600)), "mk4")
        if name == "face_front": pose, tag = P(pitch=0.12, yaw=-0.45, roll=0.03, at=(0, 0.075, 1.600)), "mk5"
        person(pose, tag)
        if name == "face_left":
            lamp("linen", sc.shade_lamp, (-1.6, 4.42, 1.30), 260.0); key = (-0.1, 1.3, 1.95)
            b.rect(key, head, 0.4, 0.4, area(sc.WARM, 22.0)); b.rect((1.6, 1.6, 1.6), head, 1.4, 1.2, area(sc.COOL, 0.35))
            cam = camera((0.85, 1.3, 1.5), head + (0.03, 0.03, 0.02), 27, focus=head + (0.07, -0.07, 0.02), aperture=0.008, size=size, spp=spp)
        elif name == "face_soft":
            lamp("pendant", sc.pendant, (-0.45, 4.05, 1.62), 60.0); key = (1.2, 2.3, 1.9)
            b.rect(key, head, 0.8, 0.8, area(sc.WARM, 14.0)); b.rect((-0.7, 0.9, 1.8), head, 1.8, 1.4, area(sc.COOL, 1.9))
            cam = camera((0.65, 1.15, 1.5), head + (0.0, 0.03, 0.0), 30, focus=head + (0.07, -0.07, 0.02), aperture=0.008, size=size, spp=spp)
        elif name == "face_front":
            key = (1.5, 1.2, 1.8); lamp("desk", sc.arm_lamp, (0.36, 4.30, 0.97), (0.10, 4.25, 1.46), (-0.1, 4.1, 1.0), 90.0)
            b.box((0.20, 4.38, 0.955), (1.1, 0.36, 0.03), sc.M("oak"))
            b.rect(key, head, 0.5, 0.5, area(sc.WARM, 18.0)); b.rect((-0.9, 1.0, 1.6), head, 1.6, 1.2, area(sc.COOL, 0.6))
            cam = camera((0.95, 1.42, 1.5), head + (0.02, 0.03, 0.0), 28, focus=head + (0.07, -0.07, 0.02), aperture=0.008, size=size, spp=spp)
        elif name == "face_dusk":
            lamp("linen", sc.shade_lamp, (-2.3, 4.42, 1.30), 300.0); lamp("pendant", sc.pendant, (-0.75, 4.0, 1.72), 45.0); key = (1.0, 2.7, 1.55)
            b.rect(key, head, 0.3, 0.3, area(sc.COOL, 40.0)); b.rect((-0.7, 0.9, 1.8), head, 1.6, 1.2, area(sc.WARM, 0.7))
            cam = camera((0.70, 1.05, 1.42), head + (0.02, 0.03, 0.03), 29, focus=head + (0.07, -0.07, 0.02), aperture=0.008, size=size, spp=spp)
        else:
            lamp("linen", sc.shade_lamp, (-1.9, 4.42, 1.30), 400.0); key = (1.06, 2.4, 1.9)
            b.rect(key, head, 0.36, 0.36, area(sc.TUNG, 90.0)); b.rect((-0.7, 0.9, 1.8), head, 1.6, 1.2, area(sc.WARM, 0.9))
            cam = camera((0.9, 1.2, 1.52), head + (0.04, 0.03, 0.01), 24, focus=head + (0.07, -0.07, 0.02), aperture=0.008, size=size, spp=spp)
    elif name == "hands":
        room(sky=0.3, cool=4.0, cool2=2.0); common(); tagged("insert", sc.insert, b)
        # pendant and shade lamp of the insert are its last parts; found by their emitters below
        cam = camera((0.05, 1.55, 1.22), (0.60, 2.6, 1.02), 34, focus=(0.50, 2.36, 0.99), aperture=0.012, size=size, spp=spp)
    elif name == "window":
        room(sky=2.2, cool=2.2, cool2=0.4); common(); person(P(pitch=0.42, at=(0, 0.075, 1.600)), "mk")
        lamp("pendant", sc.pendant, (0.84, 2.9, 1.90), 90.0)
        cam = camera((0.0, 0.6, 1.5), (1.3, 4.2, 1.55), 44, focus=(1.0, 4.0, 1.5), aperture=0.01, size=size, spp=spp)
    elif name.startswith("day"):
        cam0 = sc.daylight(b, size, spp); wb = 5600
        ids = ["s%04d" % i for i in range(1, b.n + 1)]
        for t in ids: tags[t] = "yard"
        tags[ids[0]] = "brick"; tags[ids[1]] = "ground"
        if name == "day_overcast":
            b.d["sky"] = {"type": "constant", "radiance": sp.tex(sp.daylight(6800), 0.35)}
            cam = camera((-0.4, -1.0, 1.4), (0.6, 2.4, 1.35), 52, focus=(0.2, 2.2, 1.6), aperture=0.010, size=size, spp=spp)
        else:
            b.d["sky"]["sun_direction"] = [0.7, -0.45, 0.5]
            cam = camera((0.9, 0.2, 1.5), (0.6, 2.6, 1.5), 44, focus=(0.4, 2.2, 1.6), aperture=0.010, size=size, spp=spp)
    b.d["sensor"] = cam
    return b.d, wb, tags, key, figure

def one_pass(name, width, spp, kind, path):
    import common as C, mitsuba as mi
    mi.set_log_level(mi.LogLevel.Error)
    d, wb, tags, key, figure = build(name, (width, width * 9 // 16), spp)
    sc_ = mi.load_dict(d, optimize=False) if kind == "aov" else mi.load_dict(d)
    if kind == "aov":
        integ = mi.load_dict({"type": "aov", "aovs": "alb:albedo,nn:sh_normal"})
        im = np.nan_to_num(np.array(mi.render(sc_, integrator=integ, spp=spp, seed=3))).astype(np.float32)
        d["sensor"]["film"]["rfilter"] = {"type": "box"}
        integ = mi.load_dict({"type": "aov", "aovs": "si:shape_index"})
        d2 = dict(d); cam = dict(d["sensor"]); cam["type"] = "perspective"
        for k in ("aperture_radius", "focus_distance"): cam.pop(k, None)
        cam["sampler"] = {"type": "independent", "sample_count": 1}
        sens = mi.load_dict(cam)
        si = np.array(mi.render(sc_, sensor=sens, integrator=integ, spp=1, seed=3))[..., -1]
        nn = np.array(mi.render(sc_, sensor=sens, integrator=mi.load_dict({"type": "aov", "aovs": "pp:position,nn:sh_normal"}), spp=1, seed=3))
        names = [s.id() for s in sc_.shapes()]
        labels = sorted(set(tags.values()) | {"none"})
        emit = [s.is_emitter() for s in sc_.shapes()]
        import drjit as dr
        # the pass gives each shape's number in the library's own register
        ids = [int(np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(s)))[0]) for s in sc_.shapes()]
        back = np.full(max(ids) + 2, len(names)); back[ids] = np.arange(len(names))
        lut = np.array([labels.index(tags.get(n, "none")) for n in names] + [labels.index("none")])
        idx = back[np.clip(np.round(si).astype(int), 0, len(back) - 1)]
        # shape_index of nothing hit is 0 in the library; told apart by a zero normal
        miss = (np.abs(nn[..., -3:]).sum(-1) == 0)
        lab = lut[idx]; em = np.array(emit + [False])[idx]
        lab[miss] = labels.index("none"); em[miss] = False
        np.savez(path, im=im, lab=lab.astype(np.int16), em=em, labels=np.array(labels), pos=nn[..., -6:-3].astype(np.float32), nrm=nn[..., -3:].astype(np.float32), miss=miss, key=np.array(key if key else [0, 0, 0], float), figure=figure, wb=wb)
    else:
        im, secs = C.render(sc_, spp, "colour")
        np.savez(path, im=im, wb=wb)

def relabel(name, out):
    """Only the pass that says which surface is where, for a still rendered before."""
    old = dict(np.load(f"{out}/{name}_aov.npz"))
    one_pass(name, old["lab"].shape[1], 1, "aov", f"{out}/{name}_new.npz")
    new = dict(np.load(f"{out}/{name}_new.npz")); new["im"] = old["im"]
    np.savez(f"{out}/{name}_aov.npz", **new); os.remove(f"{out}/{name}_new.npz")

def main():
    name, width, spp, out = sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
    os.makedirs(out, exist_ok=True); p = os.path.join(out, name); t = time.time()
    for kind, n in (("aov", 8), ("colour", spp)):
        for _ in range(4):
            r = subprocess.run([sys.executable, os.path.abspath(__file__), "--pass", name, str(width), str(n), kind, f"{p}_{kind}.npz"])
            if r.returncode == 0: break
        else: raise SystemExit("no pass " + name)
    import render as R
    a, c = dict(np.load(p + "_aov.npz")), dict(np.load(p + "_colour.npz"))
    R.finish(name, c["im"][..., :3], a["im"][..., -6:-3], a["im"][..., -3:], float(c["wb"]), out, 3.1 if name.startswith("day_c") else 0.0, 0.0, report=True, exr=False)
    print(name, round(time.time() - t), "s", flush=True)

if __name__ == "__main__":
    if sys.argv[1] == "--relabel": raise SystemExit(relabel(sys.argv[2], sys.argv[3]))
    one_pass(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), sys.argv[5], sys.argv[6]) if sys.argv[1] == "--pass" else main()
