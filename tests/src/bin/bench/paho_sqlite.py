"""What the hub is measured beside: readings over MQTT into SQLite, as somebody would write it in Python with care.

Reads what has arrived (up to 1,000 messages), commits it all at once (WAL, synchronous=FULL), then acknowledges. One
thread, its own select loop: with paho's thread and a queue it is slower. Session, receive maximum and quality of service
are those of the hub.

    python paho_sqlite.py PORT CLIENT_ID FILE COUNT

Says "ready 0 TIME", "first KEPT TIME" after its first commit, "last KEPT TIME" once COUNT readings are kept and
acknowledged; then ends.
"""

import select
import sqlite3
import sys
import time

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

BATCH = 1000


def main() -> None:
    port, client_id, path, count = int(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])

    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute(
        "CREATE TABLE IF NOT EXISTS readings (seq INTEGER PRIMARY KEY, stall TEXT NOT NULL, level REAL NOT NULL,"
        " mono INTEGER NOT NULL, wall INTEGER NOT NULL) STRICT"
    )

    client = mqtt.Client(
        mqtt.CallbackAPIVersion.VERSION2, client_id=client_id, protocol=mqtt.MQTTv5, manual_ack=True
    )
    arrived: list[mqtt.MQTTMessage] = []
    kept = 0
    client.on_message = lambda _client, _data, message: arrived.append(message)
    client.on_connect = lambda *_: client.subscribe("barn/stall/+/water", qos=1)
    client.on_subscribe = lambda *_: say("ready", kept)
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = BATCH
    client.connect("127.0.0.1", port, clean_start=False, properties=properties)

    while kept < count or "ready" not in said:
        sock = client.socket()
        if sock is None:
            sys.exit("the broker cut the line")
        wait = 1.0
        while len(arrived) < BATCH and select.select([sock], [], [], wait)[0]:
            client.loop_read()
            wait = 0.0
        if client.want_write():
            client.loop_write()
        client.loop_misc()
        if not arrived:
            continue
        rows = []
        for message in arrived:
            _, _, stall, _ = message.topic.split("/")
            rows.append((stall, float(message.payload), time.monotonic_ns() // 1_000_000, time.time_ns() // 1_000_000))
        db.execute("BEGIN IMMEDIATE")
        db.executemany("INSERT INTO readings (stall, level, mono, wall) VALUES (?, ?, ?, ?)", rows)
        db.execute("COMMIT")
        for message in arrived:
            client.ack(message.mid, message.qos)
        first = kept == 0
        kept += len(arrived)
        arrived.clear()
        if first:
            say("first", kept)
    while client.want_write():
        client.loop_write()
    if count:
        say("last", kept)
    client.disconnect()
    db.close()


said: list[str] = []


def say(word: str, kept: int) -> None:
    said.append(word)
    print(word, kept, time.monotonic(), flush=True)


if __name__ == "__main__":
    main()
