// The plan as an element of a page: everything it does is in /static/js/plan.
import { deskFor } from '/static/js/desk.js';
import { Plan } from '/static/js/plan/plan.js';

export default {
  template: '<div></div>',
  props: { room: String },
  mounted() {
    this.desk = deskFor(this.room);
    this.plan = new Plan(this.$el, this.desk);
    this.desk.sheet = this.plan;
    this.desk.start();
  },
  beforeUnmount() {
    this.plan.close();
    if (this.desk.sheet === this.plan) this.desk.sheet = null;
  },
  methods: {
    arrived(version) {
      this.desk.arrived(version);
    },
    propose(drawn) {
      this.desk.dispatchEvent(new CustomEvent('propose', { detail: drawn }));
    },
  },
};
