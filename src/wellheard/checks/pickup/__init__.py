"""Rules on what a microphone picks up: voices, noise, loudspeakers."""
