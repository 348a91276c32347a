"""What callers call: everything that a command or a page does, wired from the layers below."""
