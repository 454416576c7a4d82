// A native box to tick, which can be ticked from the desk too.
export default {
  inheritAttrs: false,
  props: { value: Boolean },
  emits: ["ticked"],
  template: `<input type="checkbox" v-bind="$attrs" v-model="shown" @change="$emit('ticked', shown)">`,
  data() {
    return { shown: this.value };
  },
  watch: {
    value(now) {
      this.shown = now;
    },
  },
};
