"""The demo tour: an invented band, a process whose truth is known, and the files a person could have typed."""
