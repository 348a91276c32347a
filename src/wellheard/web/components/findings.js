// An element of a page; everything it does is in /static/js/findings.js.
import { deskFor } from '/static/js/desk.js';
import { FindingList } from '/static/js/findings.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new FindingList(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
