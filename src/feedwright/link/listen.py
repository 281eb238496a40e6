"""Listening to an MQTT broker (OASIS MQTT 3.1.1): what machines report is recorded, each report once.

A message is acknowledged to the broker when it is on disk, and not before. What came while nobody listened is kept by
the broker under our client id, as the session is a lasting one.
"""

import logging
import ssl
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from threading import Event
from typing import Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from feedwright.errors import FeedwrightError, StoreError
from feedwright.farm.exchange.reporting import Reporting
from feedwright.farm.exchange.ways import Broker
from feedwright.records.store import Store

QUALITY = 1
"""At least once: a report sent again is known by its id."""
KEEPALIVE_S = 30
AGAIN_FIRST_S, AGAIN_MOST_S = 1, 60
"""How long it waits before it connects again, at first and at most."""
LOOK_EVERY_S = 1.0
HELD_S = 2.0
"""After so long a message that could not be recorded is tried again."""
Tell = Callable[[str], None]
OpenStore = Callable[[], AbstractContextManager[Store]]
LOG = logging.getLogger("feedwright.link")


class Listener:
    """One connection to a broker, held until it is told to stop."""

    def __init__(self, store: Store, broker: Broker, password: str, stop: Event, tell: Tell | None) -> None:
        self._store = store
        self._broker = broker
        self._stop = stop
        self._tell = tell
        self._reporting = Reporting(broker)
        self._client = Client(
            CallbackAPIVersion.VERSION2, client_id=broker.client_id, clean_session=False, manual_ack=True
        )
        if broker.user:
            self._client.username_pw_set(broker.user, password or None)
        if broker.tls:
            context = ssl.create_default_context(cafile=broker.ca_file or None)
            self._client.tls_set_context(context)
        self._client.reconnect_delay_set(AGAIN_FIRST_S, AGAIN_MOST_S)
        self._client.on_connect = self._connected
        self._client.on_connect_fail = self._not_connected
        self._client.on_disconnect = self._disconnected
        self._client.on_subscribe = self._subscribed
        self._client.on_message = self._came

    def run(self) -> None:
        """Listen until it is told to stop; a broker that is away is waited for."""
        self._reporting.resume(self._store)
        self._client.connect_async(self._broker.host, self._broker.port, keepalive=KEEPALIVE_S)
        self._client.loop_start()
        try:
            self._say()
            while not self._stop.wait(LOOK_EVERY_S):
                if self._reporting.is_news(datetime.now(UTC)):
                    self._say()
        finally:
            self._client.disconnect()
            self._client.loop_stop()
            self._reporting.connected = False
            self._say(at_work=False)

    def _connected(
        self, client: Client, _data: Any, _flags: ConnectFlags, why: ReasonCode, _more: Properties | None
    ) -> None:
        if why.is_failure:
            self._reporting.lost(f"the broker refused us: {why}")
            return
        client.subscribe([(topic, QUALITY) for topic in self._reporting.topics()])

    def _subscribed(
        self, _client: Client, _data: Any, _mid: int, granted: list[ReasonCode], _more: Properties | None
    ) -> None:
        if any(why.is_failure for why in granted):
            self._reporting.lost("the broker lets us hear none of the topics: give our user the right to read them")
        else:
            self._reporting.found()

    def _not_connected(self, _client: Client, _data: Any) -> None:
        or_so = ", or its certificate is not trusted" if self._broker.tls else ""
        self._reporting.lost(f"the broker cannot be reached{or_so}; it is tried again")

    def _disconnected(
        self, _client: Client, _data: Any, _flags: DisconnectFlags, why: ReasonCode, _more: Properties | None
    ) -> None:
        if why.is_failure and self._reporting.connected:  # else it is known already why we were not let in
            self._reporting.lost(f"the connection was lost ({why}); it is tried again")

    def _came(self, client: Client, _data: Any, message: MQTTMessage) -> None:
        """Take one message. While the records cannot be written it is held, and acknowledged only afterwards."""
        came_utc = datetime.now(UTC).replace(microsecond=0)
        while not self._stop.is_set():
            try:
                payload = bytes(message.payload)
                said = self._reporting.take(self._store, message.topic, payload, came_utc, retained=message.retain)
                break
            except StoreError as error:
                self._reporting.problem = error.sentence
                LOG.warning("message on %s is held: %s", message.topic, error.sentence)
                self._stop.wait(HELD_S)
            except Exception:  # one odd message must not end the listening
                LOG.exception("message on %s could not be taken", message.topic)
                said = ""
                break
        else:
            return
        client.ack(message.mid, message.qos)
        if said and self._tell is not None:
            self._tell(said)

    def _say(self, *, at_work: bool = True) -> None:
        try:
            self._reporting.say(self._store, at_work=at_work)
        except FeedwrightError as error:
            LOG.warning("the state of listening is not kept: %s", error.sentence)


def listen(open_store: OpenStore, broker: Broker, password: str, stop: Event, *, tell: Tell | None = None) -> None:
    """Listen to a broker until ``stop`` is set; ``tell`` hears in words what each report did."""
    with open_store() as store:
        Listener(store, broker, password, stop, tell).run()
