// The library: every piece at one scale, found by name or size as one types. One element, however many pieces there are.
export default {
  props: { pieces: { type: Array, default: () => [] }, bar: Number, place: String },
  template: `
    <div>
      <Teleport v-if="here && pieces.length" :to="'#' + place">
        <div class="field search"><label :for="name">Find a pattern</label><div class="box"><input :id="name" type="search" v-model="wanted" autocomplete="off" :aria-describedby="name + 'n'"></div></div>
      </Teleport>
      <p v-if="pieces.length" :id="name + 'n'" role="status" :class="found.length ? 'vh' : 'quiet'">{{ said }}</p>
      <ul v-if="found.length" class="pieces">
        <li v-for="p in found" :key="p.id" class="piece">
          <div class="pic">
            <img v-if="p.src" :src="p.src" alt="" loading="lazy" decoding="async" :width="p.px" :height="p.px" :style="{ width: p.px + 'px', height: p.px + 'px' }">
            <span v-if="p.note" :class="p.src ? 'small' : 'quiet'">{{ p.note }}</span>
          </div>
          <div class="meta"><h3><a :href="'/patterns/' + p.id">{{ p.name }}</a></h3><span v-if="p.weight" class="nowrap">{{ p.weight }}<span class="unit">{{ p.unit }}</span></span></div>
          <div class="meta"><span>{{ p.size }}</span><span v-if="p.mark" class="tally"><span class="mark" :class="p.mark">{{ p.word }}</span><span>{{ p.count }}</span></span></div>
        </li>
      </ul>
      <p v-if="found.length && bar" class="small bar-line"><span class="bar10" :style="{ width: bar + 'px' }"></span><span>10 mm on every picture above</span></p>
    </div>`,
  data() {
    return { wanted: "", here: false, name: "find" + Math.random().toString(36).slice(2) };
  },
  computed: {
    found() {
      const words = this.wanted.toLowerCase().split(/\s+/).filter(Boolean);
      return this.pieces.filter((p) => {
        const text = `${p.name} ${p.file} ${p.size} ${p.word ?? ""}`.toLowerCase();
        return words.every((word) => text.includes(word));
      });
    },
    said() {
      const [few, all] = [this.found.length, this.pieces.length];
      return few ? `${few} of ${all} patterns` : `No pattern is called so. ${all} ${all === 1 ? "is" : "are"} here.`;
    },
  },
  mounted() {
    this.here = Boolean(document.getElementById(this.place));
  },
};
