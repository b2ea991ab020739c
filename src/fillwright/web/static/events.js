// What other pages change, told by the server (server-sent events) while this one is looked at:
// a browser opens few connections to one server, and a page out of sight need not hold one.

// onversion(version): the version a tune has now; told at once, and after each change.
export function follow(tune, onversion) {
  let source = null;
  const listen = () => {
    if (document.hidden) {
      source?.close();
      source = null;
    } else if (!source) {
      source = new EventSource(`/api/tunes/${tune}/events`);
      source.addEventListener("message", (event) => onversion(JSON.parse(event.data).version));
    }
  };
  document.addEventListener("visibilitychange", listen);
  addEventListener("pagehide", () => source?.close());
  listen();
}
