"""What turns an outline into a file."""
