# Short fronts to start.py, which works without make too: `py start.py demo`.
PYTHON ?= python3
.PHONY: demo test lint bench long
demo test lint bench long:
	@$(PYTHON) start.py $@
