// A native field of one line that keeps what is being typed while the page is drawn again round it.
export default {
  inheritAttrs: false,
  props: { value: String, lines: Boolean },
  emits: ["typed", "left"],
  template: `
    <textarea v-if="lines" ref="box" v-bind="$attrs" rows="3" :value="shown" @input="type" @blur="leave" @keydown.enter.prevent="leave"></textarea>
    <input v-else ref="box" v-bind="$attrs" :value="shown" @input="type" @blur="leave" @keydown.enter="leave">`,
  data() {
    return { shown: this.value ?? "", typing: false, mine: false };
  },
  watch: {
    value(now) {
      if (this.typing) return;
      this.mine = false;
      this.shown = now ?? "";
    },
  },
  methods: {
    type(event) {
      this.typing = this.mine = true;
      this.shown = event.target.value;
      this.$emit("typed", this.shown);
    },
    leave(event) {
      this.typing = false;
      if (this.mine) this.$emit("left", event.target.value); // what nobody typed is not to be written
    },
  },
};
