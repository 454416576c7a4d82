// The viewer: a tray with a solid in 3-D, its switches above, its legend at the left, its sliders below. What is drawn is the stage's affair.
import { BELOW, REVISION, Stage, VIEWS } from "pourwell-stage";

const BARS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100]; // of the reader's unit
const LONGEST_BAR_PX = 140;
const MOST_TICKS = 5;
const STEP_DEG = 8;
const STEP_PX = 40;
const ZOOM = 1.15;
const OUT_PX = 46; // from a place to its letter
const CLICK_PX = 4;
const [NEAR_MM, FAR_MM, BEHIND_MM] = [0.25, 1, 0.3]; // one press moves a place so far; what lies so much deeper is hidden
const LEGEND_PX = 128;
const NARROW_LEGEND_PX = 52;
const NARROW_PX = 560; // on a narrower tray a legend is figures only
const STEPS = 200; // of the slider of a time
const CUTS = { Front: "the front", Side: "the side", Above: "above" };

const number = (value) => (Math.abs(value) >= 100 ? value.toFixed(0) : Math.abs(value) >= 10 ? value.toFixed(1) : value.toFixed(2));

// The next of 1, 2, 5, 10 ... at or above a number.
function roundStep(least) {
  const ten = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((k) => k * ten).find((step) => step >= least * (1 - 1e-9));
}

const decimals = (step) => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));

const lasted = (s) => (s < 120 ? `${number(s)} s` : s < 7200 ? `${number(s / 60)} min` : `${number(s / 3600)} h`);

export default {
  props: { solids: Array, label: String, still: String, flags: Array, placing: String, grip: Array, scales: Object },
  emits: ["picked", "placed", "ready"],
  template: `
    <div class="view" ref="root" :data-ready="ready" :data-frame="frames" :data-section="cutShare" :data-field="field" :data-time="at" :data-solid="which" :data-three="three">
      <div class="view-top">
        <div v-if="solids.length > 1" class="switch" role="radiogroup" aria-label="Which one">
          <label v-for="(s, k) in solids" :key="k"><input type="radio" :name="name + 's'" :value="k" v-model="which" @change="chosenSolid">{{ s.title }}</label>
        </div>
        <div v-if="fields.length && !failed" class="switch" role="radiogroup" aria-label="Show">
          <label><input type="radio" :name="name" value="" v-model="field" @change="chosenField">Plain</label>
          <label v-for="f in fields" :key="f.name"><input type="radio" :name="name" :value="f.name" v-model="field" @change="chosenField">{{ f.title }}</label>
        </div>
        <span v-else-if="solids.length < 2"></span>
        <div v-if="!failed" class="switch" role="radiogroup" aria-label="A click">
          <label><input type="radio" :name="name + 'm'" value="turn" v-model="mode" @change="forget">Turn</label>
          <label><input type="radio" :name="name + 'm'" value="measure" v-model="mode" @change="forget">Measure</label>
          <label v-if="placing"><input type="radio" :name="name + 'm'" value="place" v-model="mode" @change="forget">{{ placing }}</label>
        </div>
      </div>
      <div class="view-pic" ref="pic" :class="{ aiming: mode !== 'turn' }">
        <img v-if="failed && (solids[which].still || still)" :src="solids[which].still || still" :alt="label">
        <canvas v-show="!failed" ref="canvas" tabindex="0" role="img" :aria-label="label + '. Arrow keys turn it, plus and minus change its size; more keys are listed below it.'" @keydown="key" @pointerdown="down" @pointerup="up"></canvas>
        <span v-if="mode !== 'turn' && !failed" class="cross" :style="{ left: 'calc(50% + ' + inset / 2 + 'px)' }" aria-hidden="true"></span>
        <svg class="leads" aria-hidden="true"><line v-for="f in shown" :key="f.letter" :x1="f.x" :y1="f.y" :x2="f.lx" :y2="f.ly"/><line v-if="ruler" :x1="ruler[0]" :y1="ruler[1]" :x2="ruler[2]" :y2="ruler[3]"/><circle v-for="(d, k) in dots" :key="k" :cx="d[0]" :cy="d[1]" r="4"/></svg>
        <button v-for="f in shown" :key="f.letter" type="button" class="letter" :class="{ at: f.letter === chosen }" :style="{ left: f.lx + 'px', top: f.ly + 'px' }" :aria-label="(f.what ?? 'Finding') + ' ' + f.letter + ': ' + f.says" @click="pick(f.letter)">{{ f.letter }}</button>
        <button v-if="held && !failed" type="button" class="grip" :class="{ behind: held.behind }" :style="{ left: held.x + 'px', top: held.y + 'px' }" :aria-label="placing + ': arrow keys move it along the surface, with Shift further'" @keydown="nudge" @pointerdown="grab" @pointermove="drag" @pointerup="drop"></button>
        <div v-if="legend" class="legend" :class="{ narrow }"><b>{{ legend.title }}, {{ unitOf(legend.unit).unit }}</b><div class="scale"><div class="ramp"></div>
          <span v-for="t in ticks" :key="t.at" :style="{ bottom: place(t.at) + '%' }">{{ t.says }}</span>
          <span v-if="legend.limit != null" class="limit" :style="{ bottom: place(legend.limit) + '%' }">{{ limitSaid }} <span class="says">{{ legend.limit_says }}</span></span>
          <i v-if="legend.slide && !legend.moments_s && at != null" class="now" :style="{ bottom: place(at) + '%' }"></i></div></div>
        <output v-if="measured" class="measured">{{ measured }}</output>
        <div v-if="bar" class="scalebar" :style="{ '--mm10': bar.px + 'px' }">{{ bar.says }}</div>
      </div>
      <p v-if="said" class="view-said">{{ said }}</p>
      <div v-if="!failed" class="view-foot">
        <label v-if="legend && legend.slide" class="slide time"><span>{{ legend.slide }}</span><input type="range" min="0" :max="steps" step="1" v-model.number="step" @input="slid" :aria-label="legend.slide" :aria-valuetext="timeSaid"><output>{{ timeSaid }}</output></label>
        <div class="cut">
          <label class="cut-from"><span>Section from</span><select v-model="cutFrom" @change="cutIt"><option v-for="(says, id) in cuts" :key="id" :value="id">{{ says }}</option></select></label>
          <label class="slide"><input type="range" min="0" max="100" step="1" v-model.number="cutShare" @input="cutIt" aria-label="Section, how deep" :aria-valuetext="cutSaid"><output>{{ cutSaid }}</output></label>
        </div>
        <div class="views"><button v-for="(v, n) in views" :key="n" type="button" class="btn plain" @click="turn(n)">{{ n }}</button></div>
        <details class="keys-help"><summary>Keys and fingers</summary>
          <p>With the picture in focus: <kbd>arrows</kbd> turn it, with <kbd>Shift</kbd> they move it. <kbd>+</kbd> <kbd>−</kbd> larger, smaller. <kbd>1</kbd> to <kbd>4</kbd> front, side, above, three-quarter<span v-if="views['From below']">, <kbd>5</kbd> from below</span>; <kbd>0</kbd> all of it.
          <kbd>[</kbd> <kbd>]</kbd> move the section<span v-if="legend && legend.slide">, <kbd>,</kbd> <kbd>.</kbd> the time</span>. While measuring<span v-if="placing"> or placing</span>, <kbd>Enter</kbd> takes the point in the cross, <kbd>Esc</kbd> forgets it. One finger turns, two pinch and move.</p>
        </details>
      </div>
    </div>`,
  data() {
    return {
      ready: "no", frames: 0, cutShare: 0, cutFrom: "Front", cutSaid: "off", field: "", fields: [], failed: false, said: "", shown: [], chosen: "",
      legend: null, bar: null, mode: "turn", measured: "", ruler: null, dots: [], views: VIEWS, cuts: CUTS, three: REVISION, which: 0, inset: 0, narrow: false,
      at: null, held: null, step: STEPS, steps: STEPS, name: "show" + Math.random().toString(36).slice(2),
    };
  },
  computed: {
    ticks() {
      const { limit, high, low } = this.legend; // a tick under the limit's words is left out
      return this.marks().filter(({ at }) => limit == null || Math.abs(at - limit) > 0.06 * (high - low));
    },
    limitSaid() {
      const { limit, unit } = this.legend, said = String(limit).split(".")[1] ?? "";
      return this.figure(limit, unit, said.length);
    },
    timeSaid() {
      const { legend, at } = this;
      if (!legend?.slide) return "";
      if (at == null) return "all";
      return legend.moments_s ? this.point(lasted(at)) : `${this.point(number(this.given(at, legend.unit)))} ${this.unitOf(legend.unit).unit}`;
    },
  },
  watch: {
    solids: {
      deep: true,
      handler(now, before) {
        if (JSON.stringify(now.map((s) => s.src)) !== this.loaded) this.load();
      },
    },
    grip() {
      this.moving = null;
      this.stage?.redraw();
    },
    flags: {
      deep: true,
      handler() {
        this.stage?.redraw();
      },
    },
  },
  async mounted() {
    try {
      this.stage = new Stage(this.$refs.canvas, { drawn: () => this.drawn(), lost: () => this.fail("still", "The graphics card gave up. Load the page again; what is said beside it is complete.") });
    } catch {
      this.fail("still", "This browser draws no 3-D. A still picture stands in its place; what is said beside it is complete.");
      return;
    }
    this.watcher = new ResizeObserver(() => {
      this.room();
      this.stage.resize();
    });
    this.watcher.observe(this.$refs.pic);
    await this.load();
  },
  beforeUnmount() {
    this.watcher?.disconnect();
    this.stage?.end();
    this.stage = null;
  },
  methods: {
    // The reader's units: a figure is kept in the workshop's and shown in these.
    unitOf(base) {
      return this.scales?.units?.[base] ?? { unit: base, factor: 1, shift: 0, more: 0 };
    },
    given(value, base) {
      const { factor, shift } = this.unitOf(base);
      return factor * value + shift;
    },
    point(text) {
      return this.scales?.comma ? text.replace(".", ",") : text;
    },
    figure(value, base, digits) {
      return this.point(this.given(value, base).toFixed(digits + this.unitOf(base).more));
    },
    // Ticks of the legend: as its head has them, or at round figures of the reader's unit.
    marks() {
      const { ticks, low, high, unit } = this.legend, { factor, shift } = this.unitOf(unit);
      if (factor === 1) return ticks.map((at) => ({ at, says: this.point(String(at)) }));
      const step = roundStep((factor * (high - low)) / MOST_TICKS), first = Math.ceil((factor * low + shift) / step - 1e-9), last = Math.floor((factor * high + shift) / step + 1e-9);
      return Array.from({ length: last - first + 1 }, (_, k) => (first + k) * step).map((value) => ({ at: (value - shift) / factor, says: this.point(value.toFixed(decimals(step))) }));
    },
    fail(ready, says) {
      this.failed = true;
      this.said = says;
      this.shown = [];
      this.legend = this.bar = null;
      this.ready = ready;
    },
    async load() {
      if (!this.stage) return;
      const wanted = this.solids, again = Boolean(this.loaded);
      this.loaded = JSON.stringify(wanted.map((s) => s.src));
      const mark = this.loaded;
      try {
        const read = async (url, how) => {
          const answer = await fetch(url);
          if (!answer.ok) throw new Error(url);
          return answer[how]();
        };
        const all = await Promise.all(wanted.map(async ({ src, head }) => [head.url ? await read(head.url, "json") : head, await read(src, "arrayBuffer")]));
        if (mark !== this.loaded || !this.stage) return; // something newer was asked for meanwhile
        this.fill(all, again);
      } catch {
        if (mark === this.loaded && this.stage) this.fail("failed", "The solid could not be loaded. Load the page again.");
      }
    },
    fill(all, again) {
      this.failed = false;
      this.which = Math.min(this.which, all.length - 1);
      this.heads = all.map(([head]) => head);
      this.views = this.heads[0].plate ? { ...VIEWS, ...BELOW } : VIEWS;
      this.stage.put(all, { keep: again });
      this.chosenSolid(again);
      this.room();
      this.stage.resize();
      if (!again) this.stage.fit();
      this.$emit("ready");
    },
    room() {
      this.narrow = this.$refs.pic.clientWidth < NARROW_PX;
      this.inset = !this.legend ? 0 : this.narrow ? NARROW_LEGEND_PX : LEGEND_PX;
      this.stage.inset = this.inset;
    },
    chosenSolid(again) {
      if (this.failed) return;
      const head = this.heads[this.which];
      this.fields = head.fields;
      if (!this.fields.some((f) => f.name === this.field) && !(again === true && this.field === "")) this.field = this.fields[0]?.name ?? "";
      const [drawn, whole] = [head.shown_count, head.triangle_count].map((n) => n.toLocaleString("en"));
      this.said = head.shown_count < head.triangle_count ? `Drawn with ${drawn} of its ${whole} triangles: its figures do not come from the picture.` : "";
      this.stage.view.which = this.which;
      this.chosenField();
    },
    chosenField() {
      const before = this.legend?.name;
      this.legend = this.fields.find((f) => f.name === this.field) ?? null;
      if (this.legend?.name !== before || !this.legend?.slide) this.step = this.legend?.moments_s ? 0 : STEPS;
      this.room();
      this.stage.resize();
      this.slid();
    },
    slid() {
      const f = this.legend;
      if (!f?.slide) this.at = null;
      else if (f.moments_s) this.at = f.moments_s[0] + (this.step / STEPS) * (f.moments_s[f.moments_s.length - 1] - f.moments_s[0]);
      else this.at = this.step === STEPS ? null : f.low + (this.step / STEPS) * (f.high - f.low);
      this.stage.show({ field: this.field, at: this.at });
    },
    cutIt() {
      this.stage.show({ cut: this.cutShare, from: this.cutFrom });
      this.cutSaid = this.cutShare ? `${this.figure(this.stage.depth(), "mm", 1)} ${this.unitOf("mm").unit}` : "off";
    },
    turn(view) {
      this.stage?.turn(view);
    },
    drawn() {
      this.letters();
      this.holder();
      this.scalebar();
      this.frames += 1;
      this.ready = "yes";
    },
    letters() {
      const [mx, my] = this.stage.spot(this.stage.middle), { w, h } = this.stage.size;
      const taken = [];
      this.shown = (this.flags ?? []).filter((flag) => flag.on == null || flag.on === this.which).map((flag) => {
        const [x, y] = this.stage.spotOf(flag.at);
        const far = Math.hypot(x - mx, y - my) || 1;
        let lx = x + (OUT_PX * (x - mx)) / far, ly = y + (OUT_PX * (y - my)) / far;
        while (taken.some(([a, b]) => Math.hypot(a - lx, b - ly) < 30)) ly += 30;
        lx = Math.min(Math.max(lx, 16 + this.inset), w - 16);
        ly = Math.min(Math.max(ly, 16), h - 16);
        taken.push([lx, ly]);
        return { ...flag, x, y, lx, ly };
      });
      this.dots = (this.ends ?? []).map((end) => this.stage.spot(end));
      this.ruler = this.dots.length === 2 ? this.dots.flat() : null;
    },
    // The place that can be moved: by dragging it, or by arrow keys while it is in focus.
    holder() {
      const at = this.moving ?? this.grip;
      if (!at) return (this.held = null);
      const [x, y] = this.stage.spotOf(at), seen = this.stage.under(x, y);
      this.held = { x, y, behind: !seen || Math.hypot(...seen.point.toArray().map((v, k) => v - at[k])) > BEHIND_MM };
    },
    nudge(event) {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!way) return;
      event.preventDefault();
      if (this.held.behind) return this.stage.lookAt(this.moving ?? this.grip); // first it is turned to the front
      const px = (event.shiftKey ? FAR_MM : NEAR_MM) * this.stage.pxPerMm();
      this.put(this.stage.under(this.held.x + px * way[0], this.held.y + px * way[1]));
    },
    grab(event) {
      event.target.setPointerCapture(event.pointerId);
      this.grabbed = true;
    },
    drag(event) {
      if (!this.grabbed) return;
      const box = this.$refs.canvas.getBoundingClientRect(), hit = this.stage.under(event.clientX - box.left, event.clientY - box.top);
      if (!hit || hit.flat) return;
      this.dragged = hit;
      this.moving = hit.point.toArray();
      this.stage.redraw();
    },
    drop() {
      this.grabbed = false;
      if (this.dragged) this.put(this.dragged);
      this.dragged = null;
    },
    put(hit) {
      if (!hit || hit.flat) return; // a section is no surface of the piece
      this.moving = hit.point.toArray();
      this.$emit("placed", { part: hit.part, at: this.moving, out: hit.out.toArray() });
      this.stage.redraw();
    },
    scalebar() {
      const { unit, factor } = this.unitOf("mm"), px = this.stage.pxPerMm() / factor;
      const length = BARS.filter((one) => one * px <= LONGEST_BAR_PX).pop() ?? BARS[0];
      this.bar = { says: `${this.point(String(length))} ${unit}`, px: length * px };
    },
    place(value) {
      return Math.min(Math.max((100 * (value - this.legend.low)) / (this.legend.high - this.legend.low), 0), 100);
    },
    pick(letter) {
      this.lookAt(letter);
      this.$emit("picked", letter);
    },
    lookAt(letter) {
      const flag = (this.flags ?? []).find((f) => f.letter === letter);
      if (!flag || !this.stage?.solids.length) return;
      this.chosen = letter;
      if (flag.on != null && flag.on !== this.which) {
        this.which = flag.on;
        this.chosenSolid();
      }
      this.stage.lookAt(flag.at);
    },
    // For the page: another field, or another time of it.
    showField(name, at) {
      if (!this.stage?.solids.length || (name && !this.fields.some((f) => f.name === name))) return;
      this.field = name;
      this.chosenField();
      const f = this.legend;
      if (at == null || !f?.slide) return;
      const [from, to] = f.moments_s ? [f.moments_s[0], f.moments_s[f.moments_s.length - 1]] : [f.low, f.high];
      this.step = Math.round((STEPS * Math.min(Math.max(at - from, 0), to - from)) / (to - from));
      this.slid();
    },
    key(event) {
      if (!this.stage?.solids.length || event.ctrlKey || event.metaKey || event.altKey) return;
      const turn = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key], view = Object.keys(this.views)[Number(event.key) - 1];
      const along = { "[": -1, "]": 1, ",": -1, ".": 1 }[event.key];
      if (turn && event.shiftKey) this.stage.shift(-STEP_PX * turn[0], STEP_PX * turn[1]);
      else if (turn) this.stage.walk(STEP_DEG * turn[0], STEP_DEG * turn[1]);
      else if ("+=-".includes(event.key)) this.stage.zoom(event.key === "-" ? 1 / ZOOM : ZOOM);
      else if (event.key === "0") this.stage.fit();
      else if (view) this.turn(view);
      else if ("[]".includes(event.key)) {
        this.cutShare = Math.min(Math.max(this.cutShare + 2 * along, 0), 100);
        this.cutIt();
      } else if (",.".includes(event.key) && this.legend?.slide) {
        this.step = Math.min(Math.max(this.step + 4 * along, 0), STEPS);
        this.slid();
      } else if (event.key === "Enter" && this.mode !== "turn") this.take((this.stage.size.w + this.inset) / 2, this.stage.size.h / 2);
      else if (event.key === "Escape" && this.ends?.length) this.forget();
      else return;
      event.preventDefault();
    },
    down(event) {
      this.from = [event.clientX, event.clientY];
    },
    up(event) {
      if (this.mode === "turn" || !this.from || Math.hypot(event.clientX - this.from[0], event.clientY - this.from[1]) > CLICK_PX) return;
      const box = this.$refs.canvas.getBoundingClientRect();
      this.take(event.clientX - box.left, event.clientY - box.top);
    },
    // Take the point under a place of the tray: to measure from it, or to tell the page.
    take(x, y) {
      const hit = this.stage.under(x, y);
      if (!hit) return;
      if (this.mode === "place") {
        return this.put(hit);
      }
      this.ends = this.ends?.length === 1 ? [this.ends[0], hit.point] : [hit.point];
      this.measured = this.ends.length === 2 ? `${this.figure(this.ends[0].distanceTo(this.ends[1]), "mm", 2)} ${this.unitOf("mm").unit}` : "and to where?";
      this.stage.redraw();
    },
    forget() {
      this.ends = [];
      this.measured = this.mode === "measure" ? "from where?" : "";
      this.stage?.redraw();
    },
  },
};
