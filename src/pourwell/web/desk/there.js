// Brings the part of the page that its address names into sight, once that is built: a browser looks for it too early.
const EVERY_MS = 250;
const TIMES = 40;
export default {
  template: `<span hidden></span>`,
  mounted() {
    let left = TIMES;
    const look = () => {
      const part = document.getElementById(decodeURIComponent(location.hash.slice(1)));
      if (part) part.scrollIntoView();
      else if (location.hash && left-- > 0) this.waits = setTimeout(look, EVERY_MS);
    };
    look();
  },
  unmounted() {
    clearTimeout(this.waits);
  },
};
