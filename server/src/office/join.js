// Shows the code of the link in the command. What follows the number sign of an address is never sent to the server.
"use strict";
const code = decodeURIComponent(location.hash.slice(1));
if (/^[0-9A-Za-z-]{28,40}$/.test(code)) {
  document.getElementById("code").textContent = code;
}
