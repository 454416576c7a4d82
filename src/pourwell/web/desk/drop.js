// A strip onto which files are dropped, or from which they are chosen. They go one after the other, each straight to the desk.
const MB = 1e6;

export default {
  props: {
    limit: Number,
    to: { type: String, default: "/incoming/pattern" },
    title: { type: String, default: "Drop pattern files here" },
    about: { type: String, default: "STL, OBJ, PLY, 3MF or GLB, several at once. They stay on this machine." },
    button: { type: String, default: "Choose files" },
    label: { type: String, default: "Pattern files" },
    single: Boolean,
  },
  emits: ["sent", "over", "took"],
  template: `
    <div>
      <div class="drop" :class="{ over }" @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="dropped">
        <div>
          <h2>{{ title }}</h2>
          <p class="quiet">{{ about }}</p>
        </div>
        <button class="btn" :class="{ main: !single }" type="button" @click="$refs.files.click()">{{ button }}</button>
        <input ref="files" class="vh" type="file" :multiple="!single" tabindex="-1" :aria-label="label" @change="chosen">
      </div>
      <div v-if="rows.length" class="incoming" role="status">
        <div v-for="row in rows" :key="row.key" class="job">
          <h3>{{ row.name }}</h3>
          <progress v-if="!row.why" :value="row.share" max="1" :aria-label="row.name"></progress>
          <button v-if="row.why" class="btn plain" type="button" @click="forget(row)">Close</button>
          <span class="small" :class="{ fault: row.why }">{{ row.why ? "Not taken: " + row.why : row.says }}</span>
        </div>
      </div>
    </div>`,
  data() {
    return { over: false, rows: [], next: 0, going: false };
  },
  methods: {
    dropped(event) {
      this.over = false;
      this.take(event.dataTransfer.files);
    },
    chosen(event) {
      this.take(event.target.files);
      event.target.value = "";
    },
    take(files) {
      for (const file of files) {
        const mb = (file.size / MB).toFixed(file.size < 10 * MB ? 1 : 0);
        const why = file.size > this.limit ? `${mb} MB, and the limit is ${this.limit / MB} MB. Export it coarser.` : "";
        this.rows.push({ key: this.next++, file, name: file.name, share: 0, says: `Waiting, ${mb} MB`, why });
      }
      if (!this.going) this.send();
    },
    forget(row) {
      this.rows = this.rows.filter((other) => other !== row);
    },
    async send() {
      this.going = true;
      let row;
      while ((row = this.rows.find((other) => !other.why))) {
        const why = await this.put(row);
        if (why) row.why = why;
        else this.forget(row);
        this.$emit("sent");
      }
      this.going = false;
      this.$emit("over");
    },
    put(row) {
      return new Promise((done) => {
        const request = new XMLHttpRequest();
        request.open("PUT", `${this.to}?name=${encodeURIComponent(row.name)}`);
        request.setRequestHeader("X-Pourwell", "1");
        request.upload.onprogress = (event) => {
          if (event.lengthComputable) row.share = event.loaded / event.total;
          row.says = "Coming in";
        };
        request.onerror = () => done("the desk did not answer. Drop it again.");
        request.onload = () => {
          if (request.status < 300) {
            this.$emit("took", request.responseText);
            return done("");
          }
          let why = "the desk refused it.";
          try {
            why = JSON.parse(request.responseText).why ?? why;
          } catch {
            // an answer that is no JSON has no reason in it
          }
          done(why);
        };
        request.send(row.file);
      });
    },
  },
};
