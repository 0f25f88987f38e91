"""Set-up `warm`: maker and apprentice over a violin at night, under tungsten practicals.

    python render.py warm 1280 16 OUT
"""
import numpy as np
import shapes as S
from common import area, camera
from people import facing, person
from scene import TUNG, WARM, HANDS, M, arm_lamp, arms_work, bench, pendant, room, shade_lamp, violin, wall_dressing, frame

HOLD = {"L": dict(elbow=(-0.275, 0.070, 1.10), wrist=(-0.135, 0.285, 1.02)), "R": dict(elbow=(0.24, 0.12, 1.11), wrist=(0.05, 0.32, 1.25))}
GRIP = {"L": dict(fwd=(0.45, 0.85, -0.1), up=(-0.25, 0.30, 0.9), side=-1, curl=(0.55, 0.6, 0.65, 0.7)),
        "R": dict(fwd=(-0.05, 0.95, 0.30), up=(0.85, 0.15, 0.35), side=1, curl=(1.05, 1.15, 1.2, 1.25), thumb=(0.8, 0.45, -0.5))}


def setup(b, size, spp):
    z = 0.92
    room(b, sky=0.03, cool=0.06, cool2=0.02); wall_dressing(b)
    bench(b, x0=-0.45, x1=1.35, y0=2.05, y1=2.70, z=z, clutter=False)
    person(b, "maker", (-0.30, 2.64, -0.05), facing(0.86, -0.51), S.Pose(pitch=0.34, yaw=0.02, at=(0, 0.075, 1.600)), HOLD, GRIP, "wm", shirt="blue")
    fig = person(b, "apprentice", (0.72, 2.66, -0.01), facing(-0.84, -0.54), S.Pose(pitch=0.34, yaw=0.06, roll=-0.04, at=(0, 0.075, 1.600)), arms_work(), HANDS, "wa", shirt="ochre")
    b.box((fig @ np.array([0.0, 0.375, 1.055, 1]))[:3], (0.30, 0.11, 0.022), M("old"), rz=np.degrees(facing(-0.84, -0.54)) + 5, rx=-12)
    # the instrument stands on the bench between them, scroll up, top towards the camera
    x = np.array([0.06, 0.10, 0.99]); x /= np.linalg.norm(x)
    n = np.array([0.22, -0.97, 0.0]); n -= (n @ x) * x; n /= np.linalg.norm(n)
    violin(b, frame((0.10, 2.36, z + 0.005), x, np.cross(n, x), n), "varnish")
    # practicals: a pendant behind and between them, a table lamp on the shelf, an arm lamp right
    pendant(b, (0.26, 3.35, 1.74), 150.0)
    shade_lamp(b, (-1.30, 4.42, 1.30), 190.0)
    arm_lamp(b, (1.86, 3.60, z), (1.52, 3.50, z + 0.44), (1.22, 3.30, z), 120.0)
    b.box((1.6, 3.5, z - 0.03), (0.9, 0.5, 0.05), M("oak"))
    # what the practicals cannot reach: a warm source above the bench, just out of frame, and its bounce
    b.rect((0.20, 1.78, 1.98), (0.20, 2.55, 1.50), 0.50, 0.34, area(WARM, 25.0))
    b.rect((0.04, 2.30, 2.02), (0.62, 2.58, 1.52), 0.26, 0.26, area(TUNG, 95.0))
    b.rect((0.66, 1.55, 1.98), (0.66, 2.60, 1.50), 0.40, 0.30, area(WARM, 66.0))
    b.rect((-1.3, 0.8, 1.7), (0.2, 2.6, 1.4), 1.6, 1.2, area(WARM, 0.35))
    cam = camera((0.20, 0.62, 1.50), (0.20, 2.6, 1.405), 43, focus=(0.20, 2.50, 1.5), aperture=0.010, size=size, spp=spp)
    return cam, 3600
