"""Remedies: from a finding to a change of the document that mends it."""
