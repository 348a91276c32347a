"""Signal: which port a signal comes from, what it passes, and where it is heard; pure logic."""
