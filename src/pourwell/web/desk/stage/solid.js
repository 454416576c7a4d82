// One solid on the graphics card: how its surface is coloured by a field, and what fills a section through it.
import { THREE } from "nicegui-scene";

const NONE = -1e5; // a field has no value below this

const VERTEX = `
attribute float value; attribute float later; uniform float blend;
varying vec3 vNormal; varying vec3 vPlace; varying float vValue;
void main() {
  vNormal = normalMatrix * normal; vPlace = position; vValue = mix(value, later, blend);
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;
const FRAGMENT = `
uniform sampler2D map; uniform vec3 body; uniform vec3 cut; uniform vec4 plane; uniform float low; uniform float high; uniform float limit;
uniform float past; uniform bool field; uniform bool limited;
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
    else if (vValue > past) {
      colour = texture2D(map, vec2(clamp((vValue - low) / (high - low), 0.004, 0.996), 0.5)).rgb;
      if (limited && abs(vValue - limit) < 0.9 * fwidth(vValue)) colour = vec3(1.0);
    }
    light = 0.55 + 0.45 * light;
  }
  gl_FragColor = vec4(colour * light, 1.0);
}`;

// What stands for the metal in a section: the flat of the cut, drawn where metal is.
const CAP_VERTEX = `void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }`;
const CAP_FRAGMENT = `uniform vec3 cut; void main() { gl_FragColor = vec4(cut, 1.0); }`;
const CUT = new THREE.Vector3(0.38, 0.4, 0.42);

// A pass that draws nothing and counts behind the section, pixel by pixel, how often a way leaves metal more often than it enters it: so
// a hollow stays empty, also one in a body within another, and bodies that reach into each other are one.
function counting(plane, side, step) {
  return new THREE.ShaderMaterial({
    uniforms: { plane }, vertexShader: VERTEX, side, colorWrite: false, depthWrite: false, depthTest: false,
    fragmentShader: `uniform vec4 plane; varying vec3 vPlace; void main() { if (dot(vPlace, plane.xyz) > plane.w) discard; gl_FragColor = vec4(1.0); }`,
    stencilWrite: true, stencilFunc: THREE.AlwaysStencilFunc, stencilFail: step, stencilZFail: step, stencilZPass: step,
  });
}

// The passes over one solid, and the flat they leave: in this order after the solid itself.
function capOf(geometry) {
  const plane = { value: new THREE.Vector4(0, 0, 0, 1) };
  const flat = new THREE.ShaderMaterial({
    uniforms: { cut: { value: CUT } }, vertexShader: CAP_VERTEX, fragmentShader: CAP_FRAGMENT, side: THREE.DoubleSide,
    stencilWrite: true, stencilFunc: THREE.NotEqualStencilFunc, stencilRef: 0,
    polygonOffset: true, polygonOffsetFactor: -1, polygonOffsetUnits: -4, // before what ends in the section
  });
  const drawn = [
    new THREE.Mesh(geometry, counting(plane, THREE.BackSide, THREE.IncrementWrapStencilOp)),
    new THREE.Mesh(geometry, counting(plane, THREE.FrontSide, THREE.DecrementWrapStencilOp)),
    new THREE.Mesh(new THREE.PlaneGeometry(1, 1), flat),
  ];
  drawn.forEach((one, k) => Object.assign(one, { renderOrder: 1 + k, frustumCulled: false, visible: false }));
  return { drawn, plane };
}

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

function material(map, body) {
  const uniforms = {
    map: { value: map }, body: { value: new THREE.Vector3(...body) }, cut: { value: CUT },
    plane: { value: new THREE.Vector4(0, 0, 0, 1) }, low: { value: 0 }, high: { value: 1 }, limit: { value: 0 }, past: { value: -1e30 },
    blend: { value: 0 }, field: { value: false }, limited: { value: false },
  };
  return new THREE.ShaderMaterial({ uniforms, vertexShader: VERTEX, fragmentShader: FRAGMENT, side: THREE.DoubleSide });
}

// One solid with its fields, from the head and the numbers that `app/view_arrays.py` makes.
export function solidOf(head, data) {
  const n = 3 * head.shown_count, geometry = new THREE.BufferGeometry();
  const floats = (offset) => new THREE.BufferAttribute(new Float32Array(data, offset, n), 1);
  geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(data, 0, 3 * n), 3));
  geometry.setAttribute("normal", new THREE.BufferAttribute(new Int8Array(data, head.normals_offset, 4 * n), 4, true));
  const blank = new THREE.BufferAttribute(new Float32Array(n), 1);
  geometry.setAttribute("value", blank);
  geometry.setAttribute("later", blank);
  for (const part of head.parts) geometry.addGroup(part.first, part.count, /^(sprue|stem|button)/.test(part.name) ? 1 : 0);
  geometry.computeBoundingBox();
  const map = head.glow ? ramp(head.glow) : null;
  const mesh = new THREE.Mesh(geometry, [material(map, [0.965, 0.96, 0.94]), material(map, [0.72, 0.63, 0.47])]);
  mesh.frustumCulled = false;
  mesh.visible = false;
  const values = Object.fromEntries(head.fields.map((f) => [f.name, (f.offsets ?? [f.offset]).map(floats)]));
  return { head, mesh, values, map, cap: head.closed ? capOf(geometry) : null };
}
