// Solids in 3-D: arrays come by URL, colour is made on the graphics card, and nothing is drawn unless something changed.
import { THREE, OrbitControls } from "nicegui-scene";

const NONE = -1e5; // a field has no value below this
const VIEWS = { Front: [0, 0], Side: [90, 0], Above: [0, 89.9], "Three-quarter": [32, 26] };
const BARS_MM = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];
const STEP_DEG = 8;
const ZOOM = 1.15;
const FREE = 1.12; // room left round a solid
const OUT_PX = 46; // from a place to its letter
const CLICK_PX = 4;

const VERTEX = `
attribute float value;
varying vec3 vNormal; varying vec3 vPlace; varying float vValue;
void main() {
  vNormal = normalMatrix * normal; vPlace = position; vValue = value;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;
const FRAGMENT = `
uniform sampler2D map; uniform vec3 body; uniform vec3 cut; uniform vec4 plane; uniform float low; uniform float high; uniform float limit;
uniform bool field; uniform bool limited;
varying vec3 vNormal; varying vec3 vPlace; varying float vValue;
void main() {
  if (dot(vPlace, plane.xyz) > plane.w) discard;
  if (!gl_FrontFacing) { gl_FragColor = vec4(cut, 1.0); return; }
  vec3 n = normalize(vNormal);
  float key = max(dot(n, normalize(vec3(-0.5, 0.72, 0.62))), 0.0), round = 0.72 + 0.28 * max(n.z, 0.0);
  float light = (0.42 + 0.58 * key) * round;
  vec3 colour = body;
  if (field) {
    if (vValue < ${NONE.toFixed(1)}) colour = vec3(0.77);
    else {
      colour = texture2D(map, vec2(clamp((vValue - low) / (high - low), 0.004, 0.996), 0.5)).rgb;
      if (limited && abs(vValue - limit) < 0.9 * fwidth(vValue)) colour = vec3(1.0);
    }
    light = 0.55 + 0.45 * light;
  }
  gl_FragColor = vec4(colour * light, 1.0);
}`;

const shade = (hex) => [0, 2, 4].map((k) => parseInt(hex.slice(k, k + 2), 16));

function ramp(stops) {
  const colours = stops.split(" ").map(shade);
  const table = new Uint8Array(256 * 4);
  for (let i = 0; i < 256; i++) {
    const at = (i / 255) * (colours.length - 1);
    const k = Math.min(Math.floor(at), colours.length - 2);
    for (let c = 0; c < 3; c++) table[4 * i + c] = Math.round(colours[k][c] + (at - k) * (colours[k + 1][c] - colours[k][c]));
    table[4 * i + 3] = 255;
  }
  const map = new THREE.DataTexture(table, 256, 1);
  map.magFilter = map.minFilter = THREE.LinearFilter;
  map.needsUpdate = true;
  return map;
}

export default {
  props: { src: String, head: Object, label: String, still: String, flags: Array },
  emits: ["picked"],
  template: `
    <div class="view" ref="root" :data-ready="ready" :data-frame="frames" :data-section="cutShare" :data-field="field" :data-three="three">
      <div class="view-top">
        <div v-if="fields.length" class="switch" role="radiogroup" aria-label="Show">
          <label><input type="radio" :name="name" value="" v-model="field" @change="redraw">Plain</label>
          <label v-for="f in fields" :key="f.name"><input type="radio" :name="name" :value="f.name" v-model="field" @change="redraw">{{ f.title }}</label>
        </div>
        <span v-else></span>
        <div class="switch" role="radiogroup" aria-label="A click">
          <label><input type="radio" :name="name + 'm'" :value="false" v-model="measuring" @change="forget">Turn</label>
          <label><input type="radio" :name="name + 'm'" :value="true" v-model="measuring">Measure</label>
        </div>
      </div>
      <div class="view-pic" ref="pic">
        <img v-if="failed && still" :src="still" :alt="label">
        <canvas v-show="!failed" ref="canvas" tabindex="0" role="img" :aria-label="label + '. Arrow keys turn it, plus and minus change its size.'" @keydown="key" @pointerdown="down" @pointerup="up"></canvas>
        <p v-if="said" class="view-said">{{ said }}</p>
        <svg class="leads" aria-hidden="true"><line v-for="f in shown" :key="f.letter" :x1="f.x" :y1="f.y" :x2="f.lx" :y2="f.ly"/><line v-if="ruler" :x1="ruler[0]" :y1="ruler[1]" :x2="ruler[2]" :y2="ruler[3]"/></svg>
        <button v-for="f in shown" :key="f.letter" type="button" class="letter" :class="{ at: f.letter === chosen }" :style="{ left: f.lx + 'px', top: f.ly + 'px' }" :aria-label="'Finding ' + f.letter + ': ' + f.says" @click="pick(f.letter)">{{ f.letter }}</button>
        <div v-if="legend" class="legend"><b>{{ legend.title }}, {{ legend.unit }}</b><div class="scale"><div class="ramp"></div>
          <span v-for="t in legend.ticks" :key="t" :style="{ bottom: place(t) + '%' }">{{ t }}</span>
          <span v-if="legend.limit != null" class="limit" :style="{ bottom: place(legend.limit) + '%' }">{{ legend.limit }} {{ legend.limit_says }}</span></div></div>
        <output v-if="measured" class="measured">{{ measured }}</output>
        <div v-if="bar" class="scalebar" :style="{ '--mm10': bar.px + 'px' }">{{ bar.mm }} mm</div>
      </div>
      <div class="view-foot">
        <label class="slide"><span>Section</span><input type="range" min="0" max="100" step="1" v-model.number="cutShare" @input="redraw"><output>{{ cutShare ? cutShare + ' %' : 'off' }}</output></label>
        <div class="views"><button v-for="(v, n) in views" :key="n" type="button" class="btn plain" @click="turn(n)">{{ n }}</button></div>
      </div>
    </div>`,
  data() {
    return {
      ready: "no", frames: 0, cutShare: 0, field: "", fields: [], failed: false, said: "", shown: [], chosen: "", legend: null, bar: null,
      measuring: false, measured: "", ruler: null, views: VIEWS, three: THREE.REVISION, name: "show" + Math.random().toString(36).slice(2),
    };
  },
  async mounted() {
    try {
      this.begin();
    } catch {
      this.failed = true;
      this.said = "This browser draws no 3-D. A still picture stands in its place; the findings beside it are complete.";
      this.ready = "still";
      return;
    }
    try {
      const head = this.head.url ? await (await fetch(this.head.url)).json() : this.head;
      this.fill(head, await (await fetch(this.src)).arrayBuffer());
    } catch {
      this.failed = true;
      this.said = "The solid could not be loaded. Load the page again.";
      this.ready = "failed";
    }
  },
  beforeUnmount() {
    this.watcher?.disconnect();
    this.controls?.dispose();
    this.solid?.geometry.dispose();
    this.renderer?.dispose();
    this.renderer?.forceContextLoss();
    this.renderer = null;
  },
  methods: {
    begin() {
      const probe = document.createElement("canvas").getContext("webgl2");
      if (!probe) throw new Error("no WebGL");
      probe.getExtension("WEBGL_lose_context")?.loseContext();
      this.renderer = new THREE.WebGLRenderer({ canvas: this.$refs.canvas, antialias: true, alpha: true });
      this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
      this.scene = new THREE.Scene();
      this.camera = new THREE.OrthographicCamera();
      this.controls = new OrbitControls(this.camera, this.$refs.canvas);
      this.controls.enableDamping = false;
      this.controls.addEventListener("change", () => this.redraw());
      this.watcher = new ResizeObserver(() => this.resize());
      this.watcher.observe(this.$refs.pic);
    },
    fill(head, data) {
      const n = 3 * head.shown_count, geometry = new THREE.BufferGeometry();
      geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(data, 0, 3 * n), 3));
      geometry.setAttribute("normal", new THREE.BufferAttribute(new Int8Array(data, head.normals_offset, 4 * n), 4, true));
      geometry.setAttribute("value", new THREE.BufferAttribute(new Float32Array(n), 1));
      this.values = Object.fromEntries(head.fields.map((f) => [f.name, new THREE.BufferAttribute(new Float32Array(data, f.offset, n), 1)]));
      for (const part of head.parts) geometry.addGroup(part.first, part.count, /^(sprue|stem|button)/.test(part.name) ? 1 : 0);
      geometry.computeBoundingBox();
      geometry.boundingBox.getCenter((this.middle = new THREE.Vector3()));
      this.radius = geometry.boundingBox.getSize(new THREE.Vector3()).length() / 2;
      this.map = head.glow ? ramp(head.glow) : null;
      this.solid = new THREE.Mesh(geometry, [this.material([0.965, 0.96, 0.94]), this.material([0.72, 0.63, 0.47])]);
      this.solid.frustumCulled = false;
      this.scene.add(this.solid);
      const axes = head.front ?? [[1, 0, 0], [0, 0, 1], [0, -1, 0]];
      [this.right, this.upward, this.towards] = axes.map((a) => new THREE.Vector3(...a));
      if (head.flask) this.flask(head.flask);
      this.fields = head.fields;
      this.field = head.fields[0]?.name ?? "";
      if (head.shown_count < head.triangle_count)
        this.said = `Drawn with ${head.shown_count.toLocaleString("en")} of its ${head.triangle_count.toLocaleString("en")} triangles; measured with all.`;
      this.resize();
      this.turn(head.flask ? "Front" : "Three-quarter");
    },
    material(body) {
      const uniforms = {
        map: { value: this.map }, body: { value: new THREE.Vector3(...body) }, cut: { value: new THREE.Vector3(0.38, 0.4, 0.42) },
        plane: { value: new THREE.Vector4(0, 0, 0, 1) }, low: { value: 0 }, high: { value: 1 }, limit: { value: 0 }, field: { value: false }, limited: { value: false },
      };
      return new THREE.ShaderMaterial({ uniforms, vertexShader: VERTEX, fragmentShader: FRAGMENT, side: THREE.DoubleSide });
    },
    flask({ diameter_mm, height_mm }) {
      const points = [], r = diameter_mm / 2, sides = 64;
      const at = (k, z) => [r * Math.cos((2 * Math.PI * k) / sides), r * Math.sin((2 * Math.PI * k) / sides), z];
      for (const z of [0, height_mm]) for (let k = 0; k < sides; k++) points.push(...at(k, z), ...at(k + 1, z));
      points.push(...new Array(12).fill(0)); // the two sides, which follow the eye
      const lines = new THREE.BufferGeometry();
      lines.setAttribute("position", new THREE.Float32BufferAttribute(points, 3));
      this.sides = { place: lines.getAttribute("position"), first: 4 * sides, r, height_mm };
      const drawn = new THREE.LineSegments(lines, new THREE.LineBasicMaterial({ color: 0x7b8182 }));
      drawn.frustumCulled = false;
      this.scene.add(drawn);
      this.middle = new THREE.Vector3(0, 0, height_mm / 2);
      this.radius = Math.hypot(r, height_mm / 2);
    },
    outline() {
      if (!this.sides) return;
      this.camera.updateMatrixWorld();
      const { place, first, r, height_mm } = this.sides, across = new THREE.Vector3().setFromMatrixColumn(this.camera.matrixWorld, 0).setZ(0).normalize();
      [-1, 1].forEach((side, k) => {
        place.setXYZ(first + 2 * k, side * r * across.x, side * r * across.y, 0);
        place.setXYZ(first + 2 * k + 1, side * r * across.x, side * r * across.y, height_mm);
      });
      place.needsUpdate = true;
    },
    resize() {
      if (!this.renderer || !this.solid) return;
      const { clientWidth: w, clientHeight: h } = this.$refs.pic;
      if (!w || !h) return;
      this.renderer.setSize(w, h, false);
      const half = this.radius * FREE, wide = w / h;
      const [x, y] = wide > 1 ? [half * wide, half] : [half, half / wide];
      Object.assign(this.camera, { left: -x, right: x, top: y, bottom: -y, near: 0.01, far: 20 * this.radius });
      this.camera.updateProjectionMatrix();
      this.redraw();
    },
    turn(view) {
      const [round, up] = VIEWS[view].map(THREE.MathUtils.degToRad);
      const level = this.right.clone().multiplyScalar(Math.sin(round)).addScaledVector(this.towards, Math.cos(round));
      this.face(level.multiplyScalar(Math.cos(up)).addScaledVector(this.upward, Math.sin(up)));
      this.camera.zoom = 1;
      this.camera.updateProjectionMatrix();
      this.redraw();
    },
    face(towards) {
      this.camera.up.copy(this.upward);
      this.controls.target.copy(this.middle);
      this.camera.position.copy(this.middle).addScaledVector(towards.clone().normalize(), 5 * this.radius);
      this.controls.update();
    },
    redraw() {
      if (this.asked || !this.solid) return;
      this.asked = requestAnimationFrame(() => {
        this.asked = 0;
        this.draw();
      });
    },
    draw() {
      if (!this.renderer) return;
      const field = this.fields.find((f) => f.name === this.field), geometry = this.solid.geometry;
      if (field && geometry.getAttribute("value") !== this.values[field.name]) geometry.setAttribute("value", this.values[field.name]);
      const depth = this.radius * (1 - this.cutShare / 50);
      const plane = this.cutShare ? [...this.towards.toArray(), this.towards.dot(this.middle) + depth] : [0, 0, 0, 1];
      for (const { uniforms: u } of this.solid.material) {
        u.field.value = Boolean(field);
        u.plane.value.set(...plane);
        if (field) [u.low.value, u.high.value, u.limited.value, u.limit.value] = [field.low, field.high, field.limit != null, field.limit ?? 0];
      }
      this.legend = field ?? null;
      this.outline();
      this.renderer.render(this.scene, this.camera);
      this.letters();
      this.scalebar();
      this.frames += 1;
      this.ready = "yes";
    },
    spot(point) {
      const { clientWidth: w, clientHeight: h } = this.$refs.pic, p = point.clone().project(this.camera);
      return [((p.x + 1) / 2) * w, ((1 - p.y) / 2) * h];
    },
    letters() {
      const [mx, my] = this.spot(this.middle), { clientWidth: w, clientHeight: h } = this.$refs.pic;
      const taken = [];
      this.shown = (this.flags ?? []).map((flag) => {
        const [x, y] = this.spot(new THREE.Vector3(...flag.at));
        const far = Math.hypot(x - mx, y - my) || 1;
        let lx = x + (OUT_PX * (x - mx)) / far, ly = y + (OUT_PX * (y - my)) / far;
        while (taken.some(([a, b]) => Math.hypot(a - lx, b - ly) < 30)) ly += 30;
        lx = Math.min(Math.max(lx, 16), w - 16);
        ly = Math.min(Math.max(ly, 16), h - 16);
        taken.push([lx, ly]);
        return { ...flag, x, y, lx, ly };
      });
      this.ruler = this.ends?.length === 2 ? this.ends.flatMap((end) => this.spot(end)) : null;
    },
    scalebar() {
      const px = (this.$refs.pic.clientWidth * this.camera.zoom) / (this.camera.right - this.camera.left);
      const mm = BARS_MM.filter((length) => length * px <= 140).pop() ?? BARS_MM[0];
      this.bar = { mm, px: mm * px };
    },
    place(value) {
      return (100 * (value - this.legend.low)) / (this.legend.high - this.legend.low);
    },
    pick(letter) {
      this.lookAt(letter);
      this.$emit("picked", letter);
    },
    lookAt(letter) {
      const flag = (this.flags ?? []).find((f) => f.letter === letter);
      if (!flag || !this.solid) return;
      this.chosen = letter;
      const at = new THREE.Vector3(...flag.at), place = this.solid.geometry.getAttribute("position"), normal = this.solid.geometry.getAttribute("normal");
      let best = 0, least = Infinity;
      for (let i = 0; i < place.count; i++) {
        const d = (place.getX(i) - at.x) ** 2 + (place.getY(i) - at.y) ** 2 + (place.getZ(i) - at.z) ** 2;
        if (d < least) [least, best] = [d, i];
      }
      const out = new THREE.Vector3(normal.getX(best), normal.getY(best), normal.getZ(best)).normalize();
      this.face(out.addScaledVector(this.upward, 0.35));
      this.redraw();
    },
    key(event) {
      const turn = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (turn) {
        const s = new THREE.Spherical(), offset = this.camera.position.clone().sub(this.controls.target);
        const level = new THREE.Quaternion().setFromUnitVectors(this.upward, new THREE.Vector3(0, 1, 0));
        s.setFromVector3(offset.applyQuaternion(level));
        s.theta += THREE.MathUtils.degToRad(STEP_DEG * turn[0]);
        s.phi += THREE.MathUtils.degToRad(STEP_DEG * turn[1]);
        s.makeSafe();
        this.camera.position.copy(this.controls.target).add(offset.setFromSpherical(s).applyQuaternion(level.invert()));
        this.controls.update();
      } else if (event.key === "+" || event.key === "=" || event.key === "-") {
        this.camera.zoom *= event.key === "-" ? 1 / ZOOM : ZOOM;
        this.camera.updateProjectionMatrix();
      } else return;
      event.preventDefault();
      this.redraw();
    },
    down(event) {
      this.from = [event.clientX, event.clientY];
    },
    up(event) {
      if (!this.measuring || !this.from || Math.hypot(event.clientX - this.from[0], event.clientY - this.from[1]) > CLICK_PX) return;
      const box = this.$refs.canvas.getBoundingClientRect(), ray = new THREE.Raycaster();
      const at = new THREE.Vector2((2 * (event.clientX - box.left)) / box.width - 1, 1 - (2 * (event.clientY - box.top)) / box.height);
      ray.setFromCamera(at, this.camera);
      const hit = ray.intersectObject(this.solid)[0];
      if (!hit) return;
      this.ends = this.ends?.length === 1 ? [this.ends[0], hit.point] : [hit.point];
      this.measured = this.ends.length === 2 ? `${this.ends[0].distanceTo(this.ends[1]).toFixed(2)} mm` : "and to where?";
      this.redraw();
    },
    forget() {
      this.ends = [];
      this.measured = "";
      this.redraw();
    },
  },
};
