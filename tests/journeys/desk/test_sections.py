"""Sections in the viewer: metal is filled and a hollow is not, in bodies within bodies, and where bodies reach into each other."""

import base64
from io import BytesIO
from urllib.parse import urlsplit

import manifold3d
import numpy as np
import pytest
from PIL import Image

from pourwell.app.view_arrays import solid_view
from pourwell.geometry.solidity import from_manifold
from pourwell.web.desk.viewer import SCENE, STAGE

CUT = (97, 102, 107)
"""The viewer's own colour of a section, 0.38, 0.40, 0.42."""

PAGE = """<script type="importmap">{"imports": {"nicegui-scene": "/scene.js"}}</script>
<body style="margin: 0"><div style="width: 500px; height: 500px"><canvas style="width: 500px; height: 500px"></canvas></div>
<script type="module">
import { Stage } from "/index.js";
window.show = (head, text, cut) => new Promise((done) => {
  const numbers = Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  const stage = window.stage = new Stage(document.querySelector("canvas"), { drawn: () => done(stage.pxPerMm()), lost() {} });
  stage.put([[head, numbers]], { keep: false });
  stage.show({ cut, from: "Front" });
  stage.turn("Front");
});
window.there = true;
</script>"""


CLICKS = """(across) => across.map((mm) => {
  const hit = stage.under(250 + mm * stage.pxPerMm(), 250);
  return hit && [hit.flat, stage.middle.clone().sub(hit.point).dot(stage.cutAxis())];
})"""


def ball(radius, at=(0.0, 0.0, 0.0)):
    return manifold3d.Manifold.sphere(radius, 96).translate(at)


def rod(radius, long):
    return manifold3d.Manifold.cylinder(long, radius, radius, 96)


def cut_through(browser, bodies, across_mm):
    """How much of the viewer's section through the middle is drawn as metal, seen square to it [mm2]; for each distance from the
    middle to the right whether a click there takes the flat of the section, and how far behind it what is taken lies [mm]."""
    data, head = solid_view([(f"body {k}", body) for k, body in enumerate(bodies)], axes=np.eye(3))

    def serve(route):
        name = urlsplit(route.request.url).path.lstrip("/")
        file = SCENE / "index.js" if name == "scene.js" else STAGE / name
        if file.is_file():
            route.fulfill(body=file.read_text("utf-8"), content_type="text/javascript")
        else:
            route.fulfill(body=PAGE, content_type="text/html")

    page = browser.new_page(viewport={"width": 500, "height": 500})
    try:
        page.route("**/*", serve)
        page.goto("http://viewer.invalid/")
        page.wait_for_function("window.there")
        px_per_mm = page.evaluate("([head, text]) => window.show(head, text, 50)", [head, base64.b64encode(data).decode()])
        taken = page.evaluate(CLICKS, across_mm)
        seen = np.asarray(Image.open(BytesIO(page.screenshot())).convert("RGB")).astype(int)
    finally:
        page.close()
    return float((np.abs(seen - CUT).max(axis=2) <= 2).sum()) / px_per_mm**2, [(flat, round(mm, 1) + 0.0) for flat, mm in taken]


SECTIONS = {
    "a hollow ball in another": (
        [ball(6) - ball(5), ball(4) - ball(3)],
        np.pi * (36 - 25 + 16 - 9),
        {0.0: (False, 3.0), 3.5: (True, 0.0), 4.5: (False, np.sqrt(25 - 4.5**2)), 5.5: (True, 0.0)},
    ),
    "a hollow ball in a full one": ([ball(6), ball(4) - ball(3)], np.pi * 36, {0.0: (True, 0.0), 3.5: (True, 0.0)}),
    "a rod that reaches into a ball": (
        [ball(6), rod(2, 12).translate((0, 0, -1)).rotate((90, 0, 0))],
        None,
        {0.0: (True, 0.0), 4.0: (True, 0.0)},
    ),
}


@pytest.mark.parametrize("name", SECTIONS)
def test_a_section_fills_what_is_metal_and_nothing_else(browser, name):
    """The discs' areas; of the rod and the ball, the area of what the boolean engine makes of both, cut in the same plane.

    What a click takes is the flat where that is filled, else the wall of the hollow behind it, as deep as the ball's radius says.
    """
    solids, area, clicks = SECTIONS[name]
    if area is None:
        area = (solids[0] + solids[1]).slice(0.0).area()
    filled, taken = cut_through(browser, [from_manifold(solid) for solid in solids], list(clicks))
    assert filled == pytest.approx(area, rel=0.03)
    assert [flat for flat, _ in taken] == [flat for flat, _ in clicks.values()]
    assert [mm for _, mm in taken] == pytest.approx([mm for _, mm in clicks.values()], abs=0.1)
