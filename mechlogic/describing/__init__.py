"""Descriptions as files: read, refused with a mend, written, compared, worked out from a print."""
