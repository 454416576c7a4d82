// A native field of one line that keeps what is being typed while the page is drawn again round it.
//
// The rule: the later one wins, and the server's order says which that is. Every stroke has a number, and the server says with each
// value which stroke it had heard before. A value that comes before the last stroke was heard is older than what is typed: it is not
// shown. One that comes after it, from another window or from a file, counts: it is shown at once, or where the field is
// being typed in, when that is left or Enter is pressed. What is typed after that wins over it again. A field that is written when it
// is left sends what was typed with its number, and the server holds both against each other.
export default {
  inheritAttrs: false,
  props: { value: String, heard: Number, lines: Boolean },
  emits: ["typed", "left"],
  template: `
    <textarea v-if="lines" ref="box" v-bind="$attrs" rows="3" :value="shown" @input="type" @blur="leave" @keydown.enter.prevent="leave"></textarea>
    <input v-else ref="box" v-bind="$attrs" :value="shown" @input="type" @blur="leave" @keydown.enter="leave">`,
  data() {
    return { shown: this.value ?? "", typing: false, mine: false, stroke: 0 };
  },
  watch: {
    value: "take",
    heard: "take",
  },
  methods: {
    type(event) {
      this.typing = this.mine = true;
      this.stroke = Math.max(this.stroke + 1, Date.now()); // a field that is made anew does not count from the beginning
      this.shown = event.target.value;
      this.$emit("typed", this.shown, this.stroke);
    },
    leave(event) {
      this.typing = false;
      if (this.mine) this.$emit("left", event.target.value, this.stroke); // what nobody typed is not to be written
      this.take();
    },
    take() {
      if (this.typing || (this.stroke && this.heard !== this.stroke)) return;
      this.mine = false;
      this.shown = this.value ?? "";
    },
  },
};
