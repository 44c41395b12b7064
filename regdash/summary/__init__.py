"""The quarterly summary: one document from the reports of a data cut, and the forms that it is written in."""
