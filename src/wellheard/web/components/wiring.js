// An element of a page; everything it does is in /static/js/wiring.js.
import { deskFor } from '/static/js/desk.js';
import { WiringPart } from '/static/js/wiring.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new WiringPart(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
