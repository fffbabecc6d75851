//! A real browser, driven by the WebDriver protocol (W3C Recommendation, 5 June 2018) as `chromedriver` speaks it.
//!
//! A dozen commands of JSON over plain HTTP on the loopback address; each waits for its answer, and waiting for a page
//! is waiting for a change of its document, never for time to pass. Never here: an expectation.

use base64::Engine as _;
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Longest wait for a document to become what a test expects.
const PATIENCE: Duration = Duration::from_secs(30);
/// Names of an element in an answer, section 11 of the protocol.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

pub const TAB: &str = "\u{e004}";
pub const ENTER: &str = "\u{e007}";
pub const SPACE: &str = " ";

/// A browser window.
pub struct Browser {
    driver: Child,
    port: u16,
    session: String,
}

impl Browser {
    /// Starts a browser, or says that there is none.
    pub fn start() -> Option<Self> {
        let chromedriver = standpipe_tests::programs::tool("chromedriver")?;
        standpipe_tests::programs::tool("chromium")?;
        let mut driver = Command::new(chromedriver)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(driver.stdout.take().unwrap()).lines();
        let port = lines
            .find_map(|line| {
                let line = line.unwrap();
                let (_, port) = line.split_once("successfully on port ")?;
                port.trim_end_matches('.').parse().ok()
            })
            .expect("chromedriver says where it listens");
        // Whatever it says later is read, so that it never waits for a reader.
        std::thread::spawn(move || lines.for_each(drop));
        let mut browser = Self { driver, port, session: String::new() };
        // A container has no user namespaces and a small /dev/shm. No name but the loopback address is looked up.
        let arguments = [
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--disable-gpu",
            "--disable-background-networking",
            "--disable-component-update",
            "--no-first-run",
            "--force-device-scale-factor=1",
            "--hide-scrollbars",
            "--lang=en",
            "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
        ];
        let patience = u64::try_from(PATIENCE.as_millis()).unwrap();
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome",
            "goog:chromeOptions": {"args": arguments},
            "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"},
            "timeouts": {"script": patience, "pageLoad": patience},
        }}});
        let made = browser.ask("POST", "/session", &wanted);
        browser.session = made["sessionId"].as_str().unwrap().to_owned();
        browser.size(1240, 900);
        Some(browser)
    }

    /// Size of the window, with what the browser puts around its content. Comes back when the page is laid out in it:
    /// the inside and the queries of its style follow the window some pictures later.
    pub fn size(&self, width: u32, height: u32) {
        self.command("POST", "/window/rect", &json!({"width": width, "height": height}));
        let laid_out = "const [width, height, done] = arguments; const look = () => { \
            if (innerWidth === width && outerHeight === height && innerHeight <= height && \
                matchMedia(`(width: ${innerWidth}px)`).matches) \
              requestAnimationFrame(() => requestAnimationFrame(() => done())); \
            else requestAnimationFrame(look); }; look();";
        self.run_on(laid_out, json!([width, height]));
    }

    pub fn open(&self, address: &str) {
        self.command("POST", "/url", &json!({"url": address}));
    }

    pub fn address(&self) -> String {
        self.command("GET", "/url", &Value::Null).as_str().unwrap().to_owned()
    }

    /// Runs a script in the page and gives what it returns.
    pub fn run(&self, script: &str, arguments: Value) -> Value {
        self.command("POST", "/execute/sync", &json!({"script": script, "args": arguments}))
    }

    /// Runs a script that calls its last argument with its result.
    pub fn run_on(&self, script: &str, arguments: Value) -> Value {
        self.command("POST", "/execute/async", &json!({"script": script, "args": arguments}))
    }

    /// Waits until an expression is true of the document; looks again at each change of it.
    #[track_caller]
    pub fn wait(&self, condition: &str) {
        let script = format!(
            "const done = arguments[arguments.length - 1]; let over = false; \
             const look = () => {{ if (!over && ({condition})) {{ over = true; done(true); }} }}; \
             new MutationObserver(look).observe(document, {{subtree: true, childList: true, characterData: true, \
             attributes: true}}); look();"
        );
        let asked = json!({"script": script, "args": []});
        let began = Instant::now();
        while let Err(said) = self.try_command("POST", "/execute/async", &asked) {
            // A document that makes way for another ends its script, which the driver tells in several ways; the other
            // document is looked at then.
            if began.elapsed() >= PATIENCE {
                let page = self.run("return document.body.innerText", json!([]));
                panic!("waited in vain for {condition}: {said}\n{}", page.as_str().unwrap_or_default());
            }
        }
    }

    /// The words of the page as they are seen.
    pub fn text(&self) -> String {
        self.run("return document.body.innerText", json!([])).as_str().unwrap().to_owned()
    }

    fn element(&self, selector: &str) -> String {
        let asked = json!({"using": "css selector", "value": selector});
        self.command("POST", "/element", &asked)[ELEMENT].as_str().unwrap().to_owned()
    }

    pub fn click(&self, selector: &str) {
        let element = self.element(selector);
        self.command("POST", &format!("/element/{element}/click"), &json!({}));
    }

    /// Clicks what leads to another address, and comes back when the window is there. A viewer of PDFs has no document
    /// to wait in, so the driver is asked; it answers when what is on its way has come.
    #[track_caller]
    pub fn follow(&self, selector: &str) {
        let (before, began) = (self.address(), Instant::now());
        self.click(selector);
        while self.address() == before {
            assert!(began.elapsed() < PATIENCE, "{selector} leads nowhere");
        }
    }

    /// Types into a box.
    pub fn write(&self, selector: &str, text: &str) {
        let element = self.element(selector);
        self.command("POST", &format!("/element/{element}/value"), &json!({"text": text}));
    }

    /// Presses keys, wherever the focus is.
    pub fn press(&self, keys: &str) {
        let strokes = keys
            .chars()
            .flat_map(|key| ["keyDown", "keyUp"].map(|kind| json!({"type": kind, "value": key.to_string()})));
        let actions = json!({"actions": [{
            "type": "key", "id": "keyboard", "actions": strokes.collect::<Vec<_>>(),
        }]});
        self.command("POST", "/actions", &actions);
    }

    /// Keeps a cookie as a server sets it that no script may read; a page of its server has to be open.
    pub fn cookie(&self, name: &str, value: &str) {
        let cookie =
            json!({"name": name, "value": value, "path": "/", "httpOnly": true, "sameSite": "Strict"});
        self.command("POST", "/cookie", &json!({ "cookie": cookie }));
    }

    /// Opens another tab of the same browser and looks at it; gives the name of the one before.
    pub fn another_tab(&self) -> String {
        let before = self.command("GET", "/window", &Value::Null).as_str().unwrap().to_owned();
        let made = self.command("POST", "/window/new", &json!({"type": "tab"}));
        self.tab(made["handle"].as_str().unwrap());
        before
    }

    /// Looks at a tab.
    pub fn tab(&self, name: &str) {
        self.command("POST", "/window", &json!({ "handle": name }));
    }

    /// The window as a PNG picture.
    pub fn picture(&self) -> Vec<u8> {
        bytes(&self.command("GET", "/screenshot", &Value::Null))
    }

    /// The page as it would be printed on A4, as PDF.
    pub fn printed(&self) -> Vec<u8> {
        let page = json!({"width": 21.0, "height": 29.7});
        bytes(&self.command("POST", "/print", &json!({"page": page, "background": false})))
    }

    /// Shows the page as a medium would, for example `print`; empty is the screen again.
    pub fn medium(&self, medium: &str) {
        let asked = json!({"cmd": "Emulation.setEmulatedMedia", "params": {"media": medium}});
        self.command("POST", "/goog/cdp/execute", &asked);
    }

    /// Lines of a log since it was last asked for.
    pub fn log(&self, kind: &str) -> Vec<Value> {
        let log = self.command("POST", "/se/log", &json!({"type": kind}));
        log.as_array().unwrap().clone()
    }

    #[track_caller]
    fn command(&self, method: &str, path: &str, body: &Value) -> Value {
        self.try_command(method, path, body).unwrap_or_else(|said| panic!("{path}: {said}"))
    }

    fn try_command(&self, method: &str, path: &str, body: &Value) -> Result<Value, Value> {
        self.try_ask(method, &format!("/session/{}{path}", self.session), body)
    }

    fn ask(&self, method: &str, path: &str, body: &Value) -> Value {
        self.try_ask(method, path, body).unwrap_or_else(|said| panic!("{path}: {said}"))
    }

    fn try_ask(&self, method: &str, path: &str, body: &Value) -> Result<Value, Value> {
        let body = if body.is_null() { String::new() } else { body.to_string() };
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1:{}\r\nconnection: close\r\ncontent-type: application/json\r\n\
             content-length: {}\r\n\r\n",
            self.port,
            body.len()
        );
        stream.write_all(format!("{head}{body}").as_bytes()).unwrap();
        let mut answer = BufReader::new(stream);
        let (mut line, mut status, mut length) = (String::new(), String::new(), 0);
        while answer.read_line(&mut line).unwrap() > 2 {
            if status.is_empty() {
                status.clone_from(&line);
            } else if let Some(bytes) = line.to_lowercase().strip_prefix("content-length:") {
                length = bytes.trim().parse().unwrap();
            }
            line.clear();
        }
        let mut content = vec![0; length];
        answer.read_exact(&mut content).unwrap();
        let mut said: Value = serde_json::from_slice(&content).unwrap();
        if status.contains(" 200 ") { Ok(said["value"].take()) } else { Err(said["value"].take()) }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Ending the session ends the browser; the driver itself is then ended by hand.
        if !self.session.is_empty() {
            let _ = self.try_command("DELETE", "", &Value::Null);
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

pub fn bytes(value: &Value) -> Vec<u8> {
    base64::engine::general_purpose::STANDARD.decode(value.as_str().unwrap()).unwrap()
}
