// Shows the description of the interface with a form for each operation, by the bundle of the sidecar package.
"use strict";

(() => {
  const place = document.getElementById("api-try");
  if (!place || typeof SwaggerUIBundle !== "function") return;
  SwaggerUIBundle({
    url: place.dataset.schema,
    domNode: place,
    deepLinking: true,
    persistAuthorization: false, // a token does not stay in the browser
    validatorUrl: null, // no byte goes elsewhere
  });
})();
