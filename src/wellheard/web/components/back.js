// An element of a page; everything it does is in /static/js/back.js.
import { deskFor } from '/static/js/desk.js';
import { WayBack } from '/static/js/back.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new WayBack(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
