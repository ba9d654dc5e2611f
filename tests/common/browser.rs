//! A browser that tests drive, by the debugging protocol over a pipe: no port, no other library.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::RgbaImage;
use serde_json::{Value, json};

/// WebGPU on the processor: Chromium's own software adapter.
pub const SOFTWARE: &[&str] = &["--enable-unsafe-webgpu", "--use-webgpu-adapter=swiftshader"];

/// Longer than anything takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(90);

/// A headless Chromium with one page; it ends with the test.
pub struct Browser {
    child: Child,
    asks: ChildStdin,
    answers: BufReader<ChildStdout>,
    session: String,
    asked: u64,
    /// What it told unasked.
    pub events: Vec<Value>,
    _profile: tempfile::TempDir,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Browser {
    /// Opens a page, this wide and high; nothing where there is no Chromium, which is said.
    pub fn open(page: &Path, flags: &[&str], size: (u32, u32)) -> Option<Self> {
        let profile = tempfile::tempdir().unwrap();
        if Command::new("chromium")
            .arg("--version")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .is_err()
        {
            eprintln!("chromium is missing, so nothing is tried in a browser");
            return None;
        }
        // The protocol is spoken over the descriptors 3 and 4.
        let mut child = Command::new("sh")
            .args(["-c", "exec chromium \"$@\" 3<&0 4>&1 </dev/null >/dev/null 2>&1", "sh"])
            .args(["--headless=new", "--no-sandbox", "--remote-debugging-pipe", "--hide-scrollbars"])
            .args(["--no-first-run", "--disable-extensions", "--touch-events=enabled"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg(format!("--window-size={},{}", size.0, size.1))
            .args(flags)
            .arg("about:blank")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let asks = child.stdin.take().unwrap();
        let answers = BufReader::new(child.stdout.take().unwrap());
        let session = String::new();
        let mut browser =
            Self { child, asks, answers, session, asked: 0, events: Vec::new(), _profile: profile };
        let target = browser.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attach = json!({ "targetId": target["targetId"], "flatten": true });
        let session = browser.call("Target.attachToTarget", attach);
        browser.session = session["sessionId"].as_str().unwrap().to_owned();
        for part in ["Page", "Runtime", "Log", "Network"] {
            browser.call(&format!("{part}.enable"), json!({}));
        }
        browser.go(page);
        Some(browser)
    }

    /// Goes to a page, in place of the one that is open.
    pub fn go(&mut self, page: &Path) {
        let before = self.events.len();
        self.call("Page.navigate", json!({ "url": format!("file://{}", page.display()) }));
        self.loaded(before);
    }

    /// Asks for something of the protocol.
    pub fn call(&mut self, method: &str, parameters: Value) -> Value {
        self.asked += 1;
        let mut message = json!({ "id": self.asked, "method": method, "params": parameters });
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.asks.write_all(&bytes).unwrap();
        loop {
            let mut answer = self.heard();
            if answer["id"] == json!(self.asked) {
                assert!(answer.get("error").is_none(), "{method}: {answer}");
                return answer["result"].take();
            }
            self.events.push(answer);
        }
    }

    /// Opens the page anew.
    pub fn reload(&mut self) {
        let before = self.events.len();
        self.call("Page.reload", json!({}));
        self.loaded(before);
    }

    /// Waits until a page is there whole; `before` are the events that were told before it was asked for.
    fn loaded(&mut self, before: usize) {
        let is_there = |event: &Value| event["method"] == "Page.loadEventFired";
        while !self.events[before..].iter().any(is_there) {
            let event = self.heard();
            self.events.push(event);
        }
    }

    /// The next message from the browser.
    fn heard(&mut self) -> Value {
        let mut bytes = Vec::new();
        self.answers.read_until(0, &mut bytes).unwrap();
        assert_eq!(bytes.pop(), Some(0), "the browser ended");
        serde_json::from_slice(&bytes).unwrap()
    }

    /// What an expression of the page comes to.
    pub fn value(&mut self, expression: &str) -> Value {
        let asked = json!({ "expression": expression, "awaitPromise": true, "returnByValue": true });
        let mut answer = self.call("Runtime.evaluate", asked);
        assert!(answer.get("exceptionDetails").is_none(), "{expression}: {answer}");
        answer["result"]["value"].take()
    }

    /// The same as text.
    pub fn text(&mut self, expression: &str) -> String {
        self.value(&format!("String({expression})")).as_str().unwrap().to_owned()
    }

    /// Waits until an expression holds.
    pub fn wait(&mut self, expression: &str) {
        let since = Instant::now();
        while self.value(&format!("Boolean(document.documentElement && ({expression}))")) != json!(true) {
            assert!(since.elapsed() < PATIENCE, "never came true: {expression}; {:?}", self.complaints());
            sleep(Duration::from_millis(20));
        }
    }

    /// The pixels of a canvas.
    pub fn canvas(&mut self, id: &str) -> RgbaImage {
        let uri = self.text(&format!("document.getElementById('{id}').toDataURL()"));
        let (_, bytes) = uri.split_once(',').unwrap();
        image::load_from_memory(&STANDARD.decode(bytes).unwrap()).unwrap().to_rgba8()
    }

    /// The middle of an element, brought into view.
    pub fn middle(&mut self, selector: &str) -> (f64, f64) {
        self.value(&format!("document.querySelector({selector:?}).scrollIntoView({{ block: 'center' }})"));
        self.middle_as_it_stands(selector)
    }

    /// The middle of an element, where it is in the window.
    pub fn middle_as_it_stands(&mut self, selector: &str) -> (f64, f64) {
        let at = self.value(&format!(
            "(() => {{ const box = document.querySelector({selector:?}).getBoundingClientRect(); \
             return [box.x + box.width / 2, box.y + box.height / 2]; }})()"
        ));
        (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
    }

    /// One event of the mouse.
    pub fn mouse(&mut self, kind: &str, (x, y): (f64, f64)) {
        let buttons = u32::from(kind != "mouseReleased");
        let event =
            json!({ "type": kind, "x": x, "y": y, "button": "left", "buttons": buttons, "clickCount": 1 });
        self.call("Input.dispatchMouseEvent", event);
    }

    /// One event of a finger; no point where it is lifted.
    pub fn touch(&mut self, kind: &str, point: Option<(f64, f64)>) {
        let points: Vec<Value> = point.iter().map(|(x, y)| json!({ "x": x, "y": y })).collect();
        self.call("Input.dispatchTouchEvent", json!({ "type": kind, "touchPoints": points }));
    }

    /// A key, pressed and let go.
    pub fn key(&mut self, key: &str) {
        for kind in ["keyDown", "keyUp"] {
            let mut event = json!({ "type": kind, "key": key, "code": key });
            if key == "Enter" {
                event["windowsVirtualKeyCode"] = json!(13);
                event["text"] = json!("\r");
            }
            self.call("Input.dispatchKeyEvent", event);
        }
    }

    /// Errors that were told, and addresses asked for that lie outside the page.
    pub fn complaints(&self) -> Vec<String> {
        let is_fault = |event: &&Value| {
            let method = event["method"].as_str().unwrap_or_default();
            let address = event["params"]["request"]["url"].as_str().unwrap_or_default();
            let is_outside =
                !["file:", "data:", "blob:", "about:"].iter().any(|own| address.starts_with(own));
            match method {
                "Runtime.exceptionThrown" => true,
                "Log.entryAdded" => event["params"]["entry"]["level"] == "error",
                "Runtime.consoleAPICalled" => event["params"]["type"] == "error",
                "Network.requestWillBeSent" => is_outside,
                _ => false,
            }
        };
        self.events.iter().filter(is_fault).map(Value::to_string).collect()
    }
}
