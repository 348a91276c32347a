"""Every published formula: plain functions, arrays in, arrays out; nothing here knows a room."""
