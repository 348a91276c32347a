"""Pages of the workbench, one module each."""
