"""Run by a test in a process of its own: adds pickled uploads one after the other, once it is told to."""

import pickle
import sys
from pathlib import Path

from wearfit.store.store import Store

url, pickled = sys.argv[1:]
uploads = pickle.loads(Path(pickled).read_bytes())
print("ready", flush=True)
sys.stdin.readline()
with Store.open(url) as store:
    for upload in uploads:
        print(store.add_upload(upload).upload_id, flush=True)
