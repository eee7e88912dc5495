.PHONY: run test check bench deep setup
.NOTPARALLEL:

run:
	@sh scripts/run

test:
	@sh scripts/test

check:
	@sh scripts/check

bench:
	@sh scripts/bench

deep:
	@sh scripts/deep

setup:
	@sh scripts/setup
