// An element of a page; everything it does is in /static/js/panel.js.
import { deskFor } from '/static/js/desk.js';
import { Panel } from '/static/js/panel.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    const desk = deskFor(this.room);
    this.part = new Panel(this.$el, desk);
    desk.start();
  },
  beforeUnmount() {
    this.part.close();
  },
};
