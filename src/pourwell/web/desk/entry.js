// A native field of one line that keeps what is being typed while the page is drawn again round it.
export default {
  inheritAttrs: false,
  props: { value: String },
  emits: ["typed", "left"],
  template: `<input ref="box" v-bind="$attrs" :value="shown" @input="type" @blur="leave" @keydown.enter="leave">`,
  data() {
    return { shown: this.value ?? "" };
  },
  watch: {
    value(now) {
      if (document.activeElement !== this.$refs.box) this.shown = now ?? "";
    },
  },
  methods: {
    type(event) {
      this.shown = event.target.value;
      this.$emit("typed", this.shown);
    },
    leave(event) {
      this.$emit("left", event.target.value);
    },
  },
};
