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
  const stage = new Stage(document.querySelector("canvas"), { drawn: () => done(stage.pxPerMm()), lost() {} });
  stage.put([[head, numbers]], { keep: false });
  stage.show({ cut, from: "Front" });
  stage.turn("Front");
});
window.there = true;
</script>"""


def ball(radius, at=(0.0, 0.0, 0.0)):
    return manifold3d.Manifold.sphere(radius, 96).translate(at)


def rod(radius, long):
    return manifold3d.Manifold.cylinder(long, radius, radius, 96)


def section_mm2(browser, bodies):
    """How much of the viewer's section through the middle is drawn as metal, seen square to it."""
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
        seen = np.asarray(Image.open(BytesIO(page.screenshot())).convert("RGB")).astype(int)
    finally:
        page.close()
    return float((np.abs(seen - CUT).max(axis=2) <= 2).sum()) / px_per_mm**2


SECTIONS = {
    "a hollow ball in another": ([ball(6) - ball(5), ball(4) - ball(3)], np.pi * (36 - 25 + 16 - 9)),
    "a hollow ball in a full one": ([ball(6), ball(4) - ball(3)], np.pi * 36),
    "a rod that reaches into a ball": ([ball(6), rod(2, 12).translate((0, 0, -1)).rotate((90, 0, 0))], None),
}


@pytest.mark.parametrize("name", SECTIONS)
def test_a_section_fills_what_is_metal_and_nothing_else(browser, name):
    """The discs' areas; of the rod and the ball, the area of what the boolean engine makes of both, cut in the same plane."""
    solids, area = SECTIONS[name]
    if area is None:
        area = (solids[0] + solids[1]).slice(0.0).area()
    assert section_mm2(browser, [from_manifold(solid) for solid in solids]) == pytest.approx(area, rel=0.03)
