// Says whether the page is as narrow as a phone: at once where it is, and whenever that changes.
export default {
  emits: ["narrow"],
  template: `<span hidden></span>`,
  mounted() {
    this.query = window.matchMedia("(max-width: 700px)");
    this.tell = () => this.$emit("narrow", this.query.matches);
    this.query.addEventListener("change", this.tell);
    if (this.query.matches) this.tell();
  },
  unmounted() {
    this.query.removeEventListener("change", this.tell);
  },
};
