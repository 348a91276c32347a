// An element of a page; everything it does is in /static/js/diagram.js.
import { deskFor } from '/static/js/desk.js';
import { Diagram } from '/static/js/diagram.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new Diagram(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
