// A native box to tick, which can be ticked from the desk too. `again` has it show its value also where that is what it was before:
// what was pressed is then taken back.
export default {
  inheritAttrs: false,
  props: { value: Boolean, again: Number },
  emits: ["ticked"],
  template: `<input type="checkbox" v-bind="$attrs" v-model="shown" @change="$emit('ticked', shown)">`,
  data() {
    return { shown: this.value };
  },
  watch: {
    value: "show",
    again: "show",
  },
  methods: {
    show() {
      this.shown = this.value;
    },
  },
};
