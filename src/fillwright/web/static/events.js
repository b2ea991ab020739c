// What other pages change, told by the server (server-sent events) while this one is looked at:
// a browser opens few connections to one server, and a page out of sight need not hold one.

// onmessage(value): what happens on a channel; what holds now is told at once.
function listen(address, onmessage) {
  let source = null;
  const close = () => {
    source?.close();
    source = null;
  };
  const look = () => {
    if (document.hidden) close();
    else if (!source) {
      source = new EventSource(address);
      source.addEventListener("message", (event) => onmessage(JSON.parse(event.data)));
    }
  };
  document.addEventListener("visibilitychange", look);
  addEventListener("pagehide", close);
  addEventListener("pageshow", look); // the way back brings the page as it was left
  look();
}

// onmessage({version, chosen}): told at once and after each change; the version a tune has now,
// and `chosen`, whether it is known by now what the program plays where nothing is decided.
export function follow(tune, onmessage) {
  listen(`/api/tunes/${tune}/events`, onmessage);
}

// onchange(): told at once, and whenever something on the shelf may be different.
export function followShelf(onchange) {
  listen("/api/events", () => onchange());
}
