// The microphone of this machine and files of recordings: everything is in /static/js/capture.
import { Capture } from '/static/js/capture/capture.js';

export default {
  template: '<div></div>',
  props: { room: String, session: String, plan: Object },
  mounted() {
    this.capture = new Capture(this.$el, {
      room: this.room,
      session: this.session,
      plan: this.plan,
      kept: (answer) => this.$emit('kept', answer),
    });
  },
  beforeUnmount() {
    this.capture.close();
  },
};
