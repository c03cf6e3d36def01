"""What each workbook's kernel runs when it has started: what warns of going away has failed."""

import warnings

for _kind in (DeprecationWarning, PendingDeprecationWarning, FutureWarning):
    warnings.simplefilter("error", _kind)
del _kind, warnings  # this is done in the workbook's own namespace
