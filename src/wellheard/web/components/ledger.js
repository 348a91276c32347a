// An element of a page; everything it does is in /static/js/ledger.js.
import { deskFor } from '/static/js/desk.js';
import { Ledger } from '/static/js/ledger.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new Ledger(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
