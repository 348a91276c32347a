// An element of a page; everything it does is in /static/js/strip.js.
import { deskFor } from '/static/js/desk.js';
import { Strip } from '/static/js/strip.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new Strip(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
