// A native list to choose from.
export default {
  inheritAttrs: false,
  props: { value: String, options: Array },
  emits: ["chosen"],
  template: `<select v-bind="$attrs" :value="shown" @change="choose"><option v-for="[id, name] in options" :key="id" :value="id">{{ name }}</option></select>`,
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
      this.shown = event.target.value;
      this.$emit("chosen", this.shown);
    },
  },
};
