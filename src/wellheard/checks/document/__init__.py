"""Rules on what the document says, leaves open or relaxes."""
