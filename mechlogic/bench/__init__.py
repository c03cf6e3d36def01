"""From a log of misprints to ranked suspects, the next check, the record and the report."""
