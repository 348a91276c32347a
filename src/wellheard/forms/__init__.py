"""What every text a user writes is read with: its tree with places, its fields, its refusals.

The room document and a user's own products are both such texts, and are read alike.
"""
