# Short fronts to start.py, which works without make too: `py start.py demo`.
PYTHON ?= python3
.PHONY: demo desk test lint bench shots long
demo desk test lint bench shots long:
	@$(PYTHON) start.py $@
