"""The workbooks as web pages that need nothing installed: Python runs in the reader's browser."""
