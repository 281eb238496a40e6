// Whoever is signed out leaves no page of a visit behind on this device; entries that wait to be sent stay.
"use strict";

if ("caches" in window) caches.delete("feedwright visits");
