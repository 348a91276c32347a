"""What has been written: every text a document has had, and the rooms of a folder."""
