// A native list to choose from. With `again` it shows its first line after each choice, ready for the next.
export default {
  inheritAttrs: false,
  props: { value: String, options: Array, again: Boolean },
  emits: ["chosen"],
  template: `<select v-bind="$attrs" v-model="shown" @change="choose"><option v-for="[id, name] in options" :key="id" :value="id">{{ name }}</option></select>`,
  data() {
    return { shown: this.value ?? "" };
  },
  watch: {
    value(now) {
      this.shown = now ?? "";
    },
  },
  methods: {
    choose(event) {
      this.$emit("chosen", event.target.value);
      if (this.again) this.$nextTick(() => (this.shown = ""));
    },
  },
};
