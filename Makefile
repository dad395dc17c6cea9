# The work is done by the scripts in .ci/. HOST, PORT, HTTPS, DATABASE_URL and TAREBOOK_DEMO_PASSWORD come from the environment.

.PHONY: help setup demo run check test test-postgres faults study bench crawl pictures lock

help:
	@echo "make demo           an invented workshop's year, on 127.0.0.1:8000"
	@echo "make run            a book of your own, on 127.0.0.1:8000"
	@echo "                    for phones: HTTPS=1 after it, or HOST=0.0.0.0 before it where http is enough"
	@echo "make setup          .venv alone, for .venv/bin/python manage.py"
	@echo "make check          style, types, templates, imports, migrations"
	@echo "make test           every test, on SQLite"
	@echo "make test-postgres  every test that uses a database, on a temporary PostgreSQL"
	@echo "make faults         writers killed, a full disk, a power cut: what a book is afterwards"
	@echo "make study          simulated years: which tricks the rules find, and what they say of honest ones"
	@echo "make bench          what large books cost, against bare drivers and hand-written SQL, as one table"
	@echo "make crawl          100,000 hostile requests to a server of its own, as everybody who may come; COUNT= others"
	@echo "make pictures       the README's pictures anew; with FOLDER=PATH each kind of page at two widths, too"
	@echo "make lock           requirements.lock anew from pyproject.toml"

setup:
	@.ci/setup

demo run: setup
	@.ci/serve $@

check test test-postgres: setup
	@.ci/$@

bench: setup
	@.ci/$@

faults: setup
	@.venv/bin/python tests/faults/faults.py

study: setup
	@.venv/bin/python tests/benchmarks/study.py

crawl: setup
	@.venv/bin/python -m tests.hostile.crawl --requests $(or $(COUNT),100000)

pictures: setup
	@.venv/bin/python -m tests.browser.pictures $(FOLDER)

lock:
	@.ci/lock
