;;; install.el --- Installs the client as its README says, and lints it  -*- lexical-binding: t; -*-

(require 'bytecomp)
(require 'checkdoc)
(package-initialize)

(defconst client (concat root "/editor-clients/emacs/meniscus.el"))

(test "package-install-file compiles the client without a warning"
  (package-install-file client)
  (with-current-buffer byte-compile-log-buffer
    ;; What the package manager writes beside it is not ours.
    (should-not (string-match "/meniscus\\.el:.*\\(?:Warning\\|Error\\).*\\(?:\n.+\\)?" (buffer-string))))
  (should (locate-library "meniscus.elc")))

(test "checkdoc has nothing to say"
  (let (said)
    (cl-letf (((symbol-function 'checkdoc-error)
               (lambda (_point message &rest _) (push message said) nil)))
      (with-current-buffer (find-file-noselect client)
        (let ((checkdoc-autofix-flag 'never) (checkdoc-diagnostic-buffer "*Checkdoc*"))
          (checkdoc-current-buffer t))))
    (should-not said)))

(test "the version is that of the server's crate"
  (require 'lisp-mnt)
  (require 'meniscus)
  (with-temp-buffer
    (insert-file-contents (concat root "/Cargo.toml"))
    (re-search-forward "^version = \"\\([^\"]+\\)\"")
    (should (equal meniscus-client-version (match-string 1))))
  (should (equal meniscus-client-version (lm-version client))))
