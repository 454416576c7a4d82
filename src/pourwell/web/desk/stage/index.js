// What is drawn: solids and their fields on the graphics card, a camera, a section. Nothing is drawn unless somebody asks for it.
// It knows nothing of switches and words: the viewer does.
import { THREE, OrbitControls } from "nicegui-scene";
import { solidOf } from "./solid.js";

export const REVISION = THREE.REVISION;
export const VIEWS = { Front: [0, 0], Side: [90, 0], Above: [0, 89.9], "Three-quarter": [32, 26] };
export const BELOW = { "From below": [32, -26] }; // where there is a plate: what needs supports looks down
const FREE = 1.1; // room left round a solid
const NEAREST = 0.01;
const SIDES = 64; // of a flask, or of the line of a plate, drawn as lines
const MOST_ZOOM = 60;

export class Stage {
  constructor(canvas, { drawn, lost }) {
    const probe = document.createElement("canvas").getContext("webgl2");
    if (!probe) throw new Error("no WebGL");
    probe.getExtension("WEBGL_lose_context")?.loseContext();
    this.canvas = canvas;
    this.drawn = drawn;
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true, stencil: true });
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    this.scene = new THREE.Scene();
    this.camera = new THREE.OrthographicCamera();
    this.controls = new OrbitControls(this.camera, canvas);
    Object.assign(this.controls, { enableDamping: false, minZoom: 0.3, maxZoom: MOST_ZOOM });
    this.controls.addEventListener("change", () => this.redraw());
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      if (this.renderer) lost();
    });
    this.solids = [];
    this.plate = null;
    this.view = { which: 0, field: null, at: null, cut: 0, from: "Front" };
    this.inset = 0;
  }

  end() {
    this.clear();
    this.controls.dispose();
    const renderer = this.renderer;
    this.renderer = null;
    renderer.dispose();
    renderer.forceContextLoss();
  }

  clear() {
    for (const { mesh, map, cap } of this.solids) {
      this.scene.remove(mesh, ...(cap?.drawn ?? []));
      cap?.drawn.forEach((one) => one.material.dispose());
      cap?.drawn[2].geometry.dispose();
      mesh.geometry.dispose();
      mesh.material.forEach((one) => one.dispose());
      map?.dispose();
    }
    this.solids = [];
  }

  // Solids that are looked at in turn by one camera: [head, numbers] each. `keep` leaves the camera as it stands.
  put(loaded, { keep }) {
    this.clear();
    this.solids = loaded.map(([head, data]) => solidOf(head, data));
    const box = new THREE.Box3();
    for (const { mesh, cap } of this.solids) {
      this.scene.add(mesh, ...(cap?.drawn ?? []));
      box.union(mesh.geometry.boundingBox);
    }
    const head = this.solids[0].head;
    const axes = head.front ?? [[1, 0, 0], [0, 0, 1], [0, -1, 0]];
    [this.right, this.upward, this.towards] = axes.map((a) => new THREE.Vector3(...a));
    if (head.flask && !this.flask) this.enclose(head.flask);
    if (head.plate || this.plate) this.lie(head.plate);
    if (head.plate) {
      const r = head.plate.radius_mm;
      box.union(new THREE.Box3(new THREE.Vector3(-r, -r, 0), new THREE.Vector3(r, r, 0)));
    }
    if (head.flask) {
      const r = head.flask.diameter_mm / 2;
      box.union(new THREE.Box3(new THREE.Vector3(-r, -r, 0), new THREE.Vector3(r, r, head.flask.height_mm)));
    }
    this.box = box;
    this.middle = box.getCenter(new THREE.Vector3());
    this.radius = box.getSize(new THREE.Vector3()).length() / 2 || 1;
    this.resize();
    if (keep && this.began) {
      this.stand(this.camera.position.clone().sub(this.controls.target));
      if (head.plate) this.fit(); // it stands another way: taller, or wider
    } else this.turn(head.flask ? "Front" : head.plate ? "From below" : "Three-quarter");
    this.began = true;
  }

  get solid() {
    return this.solids[this.view.which] ?? this.solids[0];
  }

  enclose({ diameter_mm, height_mm }) {
    const points = [], r = diameter_mm / 2;
    const at = (k, z) => [r * Math.cos((2 * Math.PI * k) / SIDES), r * Math.sin((2 * Math.PI * k) / SIDES), z];
    for (const z of [0, height_mm]) for (let k = 0; k < SIDES; k++) points.push(...at(k, z), ...at(k + 1, z));
    points.push(...new Array(12).fill(0)); // the two sides, which follow the eye
    const lines = new THREE.BufferGeometry();
    lines.setAttribute("position", new THREE.Float32BufferAttribute(points, 3));
    this.flask = { place: lines.getAttribute("position"), first: 4 * SIDES, r, height_mm };
    const drawn = new THREE.LineSegments(lines, new THREE.LineBasicMaterial({ color: 0x7b8182 }));
    drawn.frustumCulled = false;
    this.scene.add(drawn);
  }

  // The plate of a printer at z = 0: a round line and a cross on it, its arms along x and y; under other solids another one, or none.
  lie(plate) {
    if (this.plate) {
      this.scene.remove(this.plate);
      this.plate.geometry.dispose();
      this.plate.material.dispose();
      this.plate = null;
    }
    if (!plate) return;
    const r = plate.radius_mm, at = (k) => [r * Math.cos((2 * Math.PI * k) / SIDES), r * Math.sin((2 * Math.PI * k) / SIDES), 0];
    const points = [-r, 0, 0, r, 0, 0, 0, -r, 0, 0, r, 0];
    for (let k = 0; k < SIDES; k++) points.push(...at(k), ...at(k + 1));
    const lines = new THREE.BufferGeometry();
    lines.setAttribute("position", new THREE.Float32BufferAttribute(points, 3));
    this.plate = new THREE.LineSegments(lines, new THREE.LineBasicMaterial({ color: 0x7b8182 }));
    this.plate.frustumCulled = false;
    this.scene.add(this.plate);
  }

  outline() {
    if (!this.flask) return;
    this.camera.updateMatrixWorld();
    const { place, first, r, height_mm } = this.flask, across = new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, 0).setZ(0).normalize();
    [-1, 1].forEach((side, k) => {
      place.setXYZ(first + 2 * k, side * r * across.x, side * r * across.y, 0);
      place.setXYZ(first + 2 * k + 1, side * r * across.x, side * r * across.y, height_mm);
    });
    place.needsUpdate = true;
  }

  get size() {
    return { w: this.canvas.parentElement.clientWidth, h: this.canvas.parentElement.clientHeight };
  }

  resize() {
    if (!this.renderer || !this.solids.length) return;
    const { w, h } = this.size;
    if (!w || !h) return;
    this.renderer.setSize(w, h, false);
    const wide = w / h;
    const [x, y] = wide > 1 ? [this.radius * wide, this.radius] : [this.radius, this.radius / wide];
    Object.assign(this.camera, { left: -x, right: x, top: y, bottom: -y, near: NEAREST, far: 20 * this.radius });
    this.camera.setViewOffset(w, h, -this.inset / 2, 0, w, h); // the legend's place stays free
    this.camera.updateProjectionMatrix();
    this.redraw();
  }

  corners() {
    const { min, max } = this.box;
    return [0, 1, 2, 3, 4, 5, 6, 7].map((k) => new THREE.Vector3(k & 1 ? max.x : min.x, k & 2 ? max.y : min.y, k & 4 ? max.z : min.z));
  }

  // How far the box reaches from its middle along a way [mm].
  reach(way) {
    return Math.max(...this.corners().map((corner) => Math.abs(corner.sub(this.middle).dot(way))));
  }

  turn(view) {
    const [round, up] = (VIEWS[view] ?? BELOW[view]).map(THREE.MathUtils.degToRad);
    const level = this.right.clone().multiplyScalar(Math.sin(round)).addScaledVector(this.towards, Math.cos(round));
    this.stand(level.multiplyScalar(Math.cos(up)).addScaledVector(this.upward, Math.sin(up)));
    this.fit();
  }

  // As large as the tray allows, as it is turned now.
  fit() {
    const { w, h } = this.size, axis = (k) => new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, k);
    this.camera.updateMatrixWorld();
    const px = w / (this.camera.right - this.camera.left);
    const room = [(w - this.inset) / (2 * px), h / (2 * px)].map((half) => half / FREE);
    this.camera.zoom = Math.min(room[0] / this.reach(axis(0)), room[1] / this.reach(axis(1)));
    this.camera.updateProjectionMatrix();
    this.redraw();
  }

  stand(towards) {
    this.camera.up.copy(this.upward);
    this.controls.target.copy(this.middle);
    this.camera.position.copy(this.middle).addScaledVector(towards.clone().normalize(), 5 * this.radius);
    this.controls.update();
    this.redraw();
  }

  // Walk round by degrees, as the arrow keys do.
  walk(round, up) {
    const s = new THREE.Spherical(), offset = this.camera.position.clone().sub(this.controls.target);
    const level = new THREE.Quaternion().setFromUnitVectors(this.upward, new THREE.Vector3(0, 1, 0));
    s.setFromVector3(offset.applyQuaternion(level));
    s.theta += THREE.MathUtils.degToRad(round);
    s.phi += THREE.MathUtils.degToRad(up);
    s.makeSafe();
    this.camera.position.copy(this.controls.target).add(offset.setFromSpherical(s).applyQuaternion(level.invert()));
    this.controls.update();
    this.redraw();
  }

  zoom(factor) {
    this.camera.zoom = Math.min(Math.max(this.camera.zoom * factor, this.controls.minZoom), MOST_ZOOM);
    this.camera.updateProjectionMatrix();
    this.redraw();
  }

  // Move the picture by so many pixels.
  shift(x, y) {
    const px = this.pxPerMm(), axis = (k) => new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, k);
    const by = axis(0).multiplyScalar(-x / px).addScaledVector(axis(1), y / px);
    this.camera.position.add(by);
    this.controls.target.add(by);
    this.controls.update();
    this.redraw();
  }

  pxPerMm() {
    return (this.size.w * this.camera.zoom) / (this.camera.right - this.camera.left);
  }

  // Turn so that a place is seen from outside.
  lookAt(at) {
    const place = this.solid.mesh.geometry.getAttribute("position"), normal = this.solid.mesh.geometry.getAttribute("normal");
    let best = 0, least = Infinity;
    for (let i = 0; i < place.count; i++) {
      const d = (place.getX(i) - at[0]) ** 2 + (place.getY(i) - at[1]) ** 2 + (place.getZ(i) - at[2]) ** 2;
      if (d < least) [least, best] = [d, i];
    }
    const out = new THREE.Vector3(normal.getX(best), normal.getY(best), normal.getZ(best)).normalize();
    this.stand(out.addScaledVector(this.upward, 0.35));
  }

  show(view) {
    Object.assign(this.view, view);
    this.redraw();
  }

  // What a section takes away, from 0 to 100, as a depth [mm].
  depth() {
    return (this.reach(this.cutAxis()) * this.view.cut) / 50;
  }

  cutAxis() {
    return { Front: this.towards, Side: this.right, Above: this.upward }[this.view.from];
  }

  redraw() {
    if (this.asked || !this.solids.length) return;
    this.asked = requestAnimationFrame(() => {
      this.asked = 0;
      this.draw();
    });
  }

  draw() {
    if (!this.renderer || !this.solids.length) return;
    const { cut, field: name, at } = this.view, { mesh, head, values } = this.solid;
    const field = head.fields.find((f) => f.name === name), axis = this.cutAxis();
    for (const one of this.solids) {
      one.mesh.visible = one.mesh === mesh;
      one.cap?.drawn.forEach((pass) => (pass.visible = one.mesh === mesh && cut > 0));
    }
    const plane = cut ? [...axis.toArray(), axis.dot(this.middle) + this.reach(axis) - this.depth()] : [0, 0, 0, 1];
    const [first, second, blend] = field ? between(field, values[name], at) : [null, null, 0];
    if (first) {
      mesh.geometry.setAttribute("value", first);
      mesh.geometry.setAttribute("later", second);
    }
    for (const { uniforms: u } of mesh.material) {
      u.field.value = Boolean(field);
      u.plane.value.set(...plane);
      u.blend.value = blend;
      u.past.value = field?.slide && !field.moments_s && at != null ? at : -1e30;
      if (field) [u.low.value, u.high.value, u.limited.value, u.limit.value] = [field.low, field.high, field.limit != null, field.limit ?? 0];
    }
    if (cut) this.lay(this.solid.cap, axis, plane);
    this.outline();
    this.renderer.render(this.scene, this.camera);
    this.drawn();
  }

  // Lay the flat of a section where the section is.
  lay(cap, axis, plane) {
    if (!cap) return;
    cap.plane.value.set(...plane);
    const flat = cap.drawn[2];
    flat.position.copy(this.middle).addScaledVector(axis, plane[3] - axis.dot(this.middle));
    flat.quaternion.setFromUnitVectors(new THREE.Vector3(0, 0, 1), axis);
    flat.scale.setScalar(4 * this.radius);
  }

  // Where a place stands on the tray [px].
  spot(point) {
    const { w, h } = this.size, p = point.clone().project(this.camera);
    return [((p.x + 1) / 2) * w, ((1 - p.y) / 2) * h];
  }

  spotOf(at) {
    return this.spot(new THREE.Vector3(...at));
  }

  // What lies under a point of the tray [px]: its place, the way out of it, the part, whether it is the flat of a section; null where nothing is.
  under(x, y) {
    const { w, h } = this.size, caster = new THREE.Raycaster(), { mesh, head, cap } = this.solid;
    caster.setFromCamera(new THREE.Vector2((2 * x) / w - 1, 1 - (2 * y) / h), this.camera);
    const part = (hit) => head.parts.find(({ first, count }) => first <= 3 * hit.faceIndex && 3 * hit.faceIndex < first + count)?.name ?? "";
    const hits = caster.intersectObject(mesh), { ray } = caster, axis = this.cutAxis();
    const kept = this.view.cut ? axis.dot(this.middle) + this.reach(axis) - this.depth() : Infinity;
    const seen = hits.filter((one) => one.point.dot(axis) <= kept);
    if (!seen.length) return null;
    const faced = cap && this.view.cut && ray.direction.dot(axis) < 0;
    if (faced && seen.reduce((wound, { face }) => wound + Math.sign(face.normal.dot(ray.direction)), 0)) {
      const point = ray.intersectPlane(new THREE.Plane(axis.clone(), -kept), new THREE.Vector3());
      return { point, out: axis.clone(), part: part(seen[0]), flat: true };
    }
    return { point: seen[0].point, out: seen[0].face.normal, part: part(seen[0]), flat: false };
  }
}

// The two moments of a field between which a time lies, and how far it is from the first to the second.
function between(field, values, at) {
  if (!field.moments_s || at == null) return [values[0], values[0], 0];
  const k = Math.min(Math.max(field.moments_s.findLastIndex((moment) => moment <= at), 0), field.moments_s.length - 2);
  if (k < 0) return [values[0], values[0], 0];
  const [from, to] = [field.moments_s[k], field.moments_s[k + 1]];
  return [values[k], values[k + 1], Math.min(Math.max((at - from) / (to - from), 0), 1)];
}
