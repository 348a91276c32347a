"""The workbench in the browser: pages over the workflow."""
