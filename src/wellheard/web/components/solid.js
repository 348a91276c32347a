// An element of a page; everything it does is in /static/js/solid.js.
import { deskFor } from '/static/js/desk.js';
import { Solid } from '/static/js/solid.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new Solid(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
