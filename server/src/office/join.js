// Shows the code of the link in the command and fills it into the box. What follows the number sign of an address is never
// sent to the server by itself.
"use strict";
const code = decodeURIComponent(location.hash.slice(1));
if (/^[0-9A-Za-z-]{28,40}$/.test(code)) {
  document.getElementById("shown-code").textContent = code;
  document.getElementById("code").value = code;
}
