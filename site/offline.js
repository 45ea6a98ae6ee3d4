// Keeps a page that was once seen, so that it answers where there is no signal. Nothing depends on it.
(function () {
  "use strict";
  var root = new URL(".", document.currentScript.src);
  if (!("serviceWorker" in navigator) || !/^https?:$/.test(root.protocol)) return;
  navigator.serviceWorker.register(new URL("sw.js", root), { scope: root.pathname }).then(function () {
    return navigator.serviceWorker.ready;
  }).then(function (ready) {
    ready.active.postMessage({ keep: [location.pathname, new URL("style.css", root).pathname] });
  }).catch(function () {});
})();
